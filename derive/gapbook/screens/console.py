"""The console that screens are rendered with: what rich prints of a text is made safe, whoever wrote it."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Console, ConsoleOptions, RenderableType
from rich.segment import Segment

from gapbook.signs import safe_lines


class SafeConsole(Console):
    """A console that writes out whatever a terminal would obey; only rich's own colours are left."""

    def render(self, renderable: RenderableType, options: ConsoleOptions | None = None) -> Iterable[Segment]:
        """The segments of a renderable, their texts made safe."""
        for segment in super().render(renderable, options):
            yield segment if segment.control else Segment(safe_lines(segment.text), segment.style)
