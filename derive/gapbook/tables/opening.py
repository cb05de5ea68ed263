"""Find the data package that is meant, and open it; a change that was interrupted is finished first."""

from __future__ import annotations

import os
import warnings
from pathlib import Path

from gapbook.errors import GapbookError, Place, fail
from gapbook.tables.locking import FOLDER
from gapbook.tables.package import DESCRIPTOR, JOURNAL, Package, checkout_of_code, is_checkout, own_root, read_json
from gapbook.tables.transactions import recover

ENVIRONMENT = "GAPBOOK_PACKAGE"


class OtherPackage(UserWarning):
    """The current folder lies in a data package, but another one is used, because none was named."""


def open_package(path: str | os.PathLike[str] | None = None) -> Package:
    """The package at `path`, which is its folder or its datapackage.json.

    Without a path, the first there is of: the package that the environment variable GAPBOOK_PACKAGE names, that of the
    checkout around the current folder, and that which came with the program; the warning OtherPackage says that the current
    folder lies in a package that is not used. GapbookError if it cannot be opened, or if an interrupted change to it cannot
    be finished.
    """
    stated = path if path is not None else os.environ.get(ENVIRONMENT) or None
    if stated is not None:
        root = Path(stated)
        return _load(root.parent if root.name == DESCRIPTOR else root)
    own = checkout_of_code()
    here = Path.cwd()
    around = _checkout_around(here)
    if around is not None and around != own:
        return _load(around, foreign=not _is_this_users(around))
    used = own_package()
    _tell_of_another(here, used)
    return used


def own_package() -> Package:
    """The package that came with the program: that of the program's checkout, else the installed copy."""
    return _load(own_root(), installed=checkout_of_code() is None)


def _tell_of_another(folder: Path, used: Package) -> None:
    """Warn (OtherPackage) if `folder` lies in a data package of gapbook's tables that is not the one that is used."""
    root = next((root for root in (folder, *folder.parents) if os.path.lexists(root / DESCRIPTOR)), None)
    if root is None or root == used.root:
        return
    try:
        resources = read_json(root / DESCRIPTOR, DESCRIPTOR, root).get("resources")
    except GapbookError:
        return
    names = [item.get("name") for item in resources if isinstance(item, dict)] if isinstance(resources, list) else []
    if all(name in names for name in ("frames", "specimens", "spacings")):
        what = f"{used.name} {used.version}, which came with the program".lstrip()
        message = f"the package used is {what}, not the one in {root}; --package {root} or {ENVIRONMENT} names another"
        warnings.warn(message, OtherPackage, stacklevel=3)


def _load(root: Path, installed: bool = False, foreign: bool = False) -> Package:
    if not os.path.lexists(root / DESCRIPTOR):
        raise fail(
            "no-package",
            f"no data package at {root}",
            expected=f"a folder with a {DESCRIPTOR}",
            fix=f"Point --package or {ENVIRONMENT} at one",
        )
    descriptor = read_json(root / DESCRIPTOR, DESCRIPTOR, root)
    resources = descriptor.get("resources")
    if not isinstance(resources, list) or not all(
        isinstance(item, dict) and isinstance(item.get("name"), str) for item in resources
    ):
        raise fail("descriptor", "the descriptor needs a list of named resources", place=Place(DESCRIPTOR))
    package = Package(root, descriptor, installed, foreign)
    for table in package.resources:
        package.paths(table)
    if package.is_changing and not installed:
        if foreign:
            message = f"a change to the package around the current folder, {root}, was broken off half way"
            fix = "It is not known to be yours. Name it with --package PATH if the change may be finished"
            raise fail("unfinished", message, place=Place(JOURNAL), fix=fix)
        recover(package)
        return _load(root)  # the change may have been one of the descriptor
    return package


def _is_this_users(root: Path) -> bool:
    """Whether a package's folder, and that of its lock if there is one, belong to the user.

    Anybody can put a package into a folder that all may write to, and everybody who works below that folder finds it. On
    Windows Python cannot tell whose a folder is, so there a package has to be named before it is written to.
    """
    if not hasattr(os, "geteuid"):
        return False
    folders = (path for path in (root, root / FOLDER) if os.path.lexists(path))
    return all(os.lstat(path).st_uid == os.geteuid() for path in folders)


def _checkout_around(folder: Path) -> Path | None:
    return next((root for root in (folder, *folder.parents) if is_checkout(root)), None)
