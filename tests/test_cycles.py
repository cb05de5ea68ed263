"""No module imports itself, by whatever way: imports inside functions and those for type checks count too."""

from __future__ import annotations

from graphlib import CycleError, TopologicalSorter

import grimp
import pytest


def order(imports: dict[str, set[str]]) -> list[str]:
    return list(TopologicalSorter(imports).static_order())


def test_modules_can_be_put_in_an_order():
    graph = grimp.build_graph("gapbook", cache_dir=None)
    imports = {module: graph.find_modules_directly_imported_by(module) for module in graph.modules}
    assert imports["gapbook.questions.meaning"] >= {"gapbook.questions.grammar"}, "an import inside a function"
    assert imports["gapbook.catalogue"] >= {"gapbook.questions.answer"}, "an import for type checks"
    assert len(order(imports)) == len(imports) > 100


def test_a_cycle_is_seen():
    with pytest.raises(CycleError):
        order({"a": {"b"}, "b": {"c"}, "c": {"a"}})
