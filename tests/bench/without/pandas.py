"""Stands before an installed pandas on the path of what is measured: Arrow imports pandas at the first touch of an array if
there is one, and gapbook installs none.
"""

raise ImportError("not installed with gapbook")
