"""Pictures. Whatever settings for matplotlib lie in the current folder are not read: they may be a stranger's."""

import os

if os.path.lexists("matplotlibrc"):
    from contextlib import chdir

    with chdir(os.path.dirname(__file__)):
        import matplotlib  # noqa: F401 (it reads its settings when it is first imported)
