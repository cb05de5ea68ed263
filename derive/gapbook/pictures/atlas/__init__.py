"""The whole catalogue as one web page that needs no server and no network."""

from gapbook.pictures.atlas.writing import write

__all__ = ["write"]
