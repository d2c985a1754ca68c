"""What a package beside benchd may import: these modules, their names, and nothing else of benchd.

``plan``, ``results`` and ``show`` are cheap to import; ``analysis`` and ``instruments`` are for where work is done.
`API` is the number of these names: a package says in its ``__init__.py`` which one it is written for, ``API = 1``, and
is refused by a benchd of another number. A test holds the names.
"""

from benchd.installed import API

__all__ = ["API"]
