"""The index on disk: an SQLite database that can always be made again from the logs, and is never the only copy.

One table of files, one of samples (one a digest: copies of a log share their results), one of names, one of figures
in the order (name, sample), so that a figure of all samples is read from neighbouring pages, and one of the
parts of the headlines' uncertainties: what two logs share cancels in their difference.
Nothing that a user types ever becomes part of a statement.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple
from zlib import crc32

from benchd.errors import InputError
from benchd.library.entry import Facts, Figure, NamedFigure
from benchd.library.figure_names import FigureNames

APPLICATION_ID = 0x62656E63  # "benc": distinguishes our file from any other database
WAIT_S = 15.0

_FACTS = Facts._fields
_TRUTHS = tuple(_FACTS.index(name) for name in ("complete", "simulated", "stated", "by_spectrum"))
_FIGURE = Figure._fields
_SHARED_TEXTS = ("why", "records", "settings", "conditions")
"""Fields of a figure that are texts which many figures share; the last of them."""

_TABLES = f"""
CREATE TABLE files(path TEXT PRIMARY KEY, size INTEGER, mtime_ns INTEGER, sha256 TEXT, fault TEXT) WITHOUT ROWID;
CREATE INDEX files_by_digest ON files(sha256);
CREATE TABLE samples(id INTEGER PRIMARY KEY, analysis TEXT, {", ".join(_FACTS)}, UNIQUE(sha256));
CREATE TABLE names(id INTEGER PRIMARY KEY, name TEXT, unit TEXT, headline INTEGER, kind TEXT, better TEXT,
    short TEXT,     UNIQUE(name, unit));
CREATE TABLE texts(id INTEGER PRIMARY KEY, text TEXT UNIQUE);
CREATE TABLE figures(name INTEGER, sample INTEGER, {", ".join(_FIGURE)}, PRIMARY KEY(name, sample)) WITHOUT ROWID;
CREATE TABLE parts(name INTEGER, sample INTEGER, source INTEGER, amount REAL, dof REAL,
    PRIMARY KEY(name, sample, source)) WITHOUT ROWID;
CREATE INDEX parts_by_sample ON parts(sample);
CREATE INDEX figures_by_sample ON figures(sample);
PRAGMA application_id = {APPLICATION_ID};
"""
_WANTED = ", ".join(f"{field}.text" if field in _SHARED_TEXTS else f"figures.{field}" for field in _FIGURE)
_WITH_TEXTS = " ".join(f"JOIN texts AS {field} ON {field}.id = figures.{field}" for field in _SHARED_TEXTS)

SHAPE = crc32(_TABLES.encode()) >> 1
"""The version of the tables: an index of another one is made anew."""


class IndexFault(InputError):
    """The index can't be used; it can be made again from the logs."""


class IndexedFile(NamedTuple):
    """A file as it is in the index. ``fault``: why nothing can be had from it, or ""."""

    path: str
    size: int
    mtime_ns: int
    sha256: str
    fault: str


class StoredSample(NamedTuple):
    """One log of the library: its facts, the first of its files, and how many copies there are beside it."""

    id: int
    facts: Facts
    path: str
    copies: int


class IndexedName(NamedTuple):
    """A figure's name, its unit, how many samples have it; ``kind``, ``better`` and ``short`` as of `NamedFigure`."""

    name: str
    unit: str
    headline: bool
    samples: int
    kind: str = ""
    better: str = "nearer"
    short: str = ""


class Store:
    """The open index. Every method may raise `IndexFault`."""

    def __init__(self, path: Path, analysis: str, folder: Path | None = None) -> None:
        """Open or make it. ``analysis``: the version of the analysis; results of another one do not count.

        ``folder``: paths in the index are within it, or whole ones.

        Raises `InputError` when something else stands in its place.
        """
        self.path = path
        self.analysis = analysis
        self.folder = folder or path.parent
        with self._told():
            self._base = sqlite3.connect(path, timeout=WAIT_S, isolation_level=None)
            self._base.execute("PRAGMA temp_store = MEMORY")
            self._base.execute("PRAGMA cache_size = -65536")
            self._prepare()
        self._names: dict[tuple[str, str], int] = {}
        self._texts: dict[str, int] = {}
        self._asked: dict[str, tuple[str, dict[int, Figure]]] = {}
        self._in_view = "files"  # a table of fixed name

    def _prepare(self) -> None:
        found = [self._base.execute(f"PRAGMA {name}").fetchone()[0] for name in ("application_id", "user_version")]
        if found == [APPLICATION_ID, SHAPE]:
            return
        tables = self._base.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
        if found[0] != APPLICATION_ID and tables:
            self._base.close()
            raise InputError(f"{self.path} is a database of something else; name another file with --index")
        self._base.execute("BEGIN IMMEDIATE")
        for (name,) in tables:
            self._base.execute(f'DROP TABLE "{name}"')
        for statement in filter(str.strip, _TABLES.split(";\n")):
            self._base.execute(statement)
        self._base.execute(f"PRAGMA user_version = {SHAPE}")
        self._base.execute("COMMIT")

    @contextmanager
    def _told(self) -> Iterator[None]:
        """Faults of the database as a sentence."""
        try:
            yield
        except sqlite3.OperationalError as error:
            raise IndexFault(
                f"the index {self.path} can't be used ({error}); free it or make its folder writable, or keep the "
                "index elsewhere with --index FILE"
            ) from None
        except sqlite3.DatabaseError as error:
            raise IndexFault(
                f"the index {self.path} is damaged ({error}); no log is: remove it and run `benchd library rebuild`"
            ) from None

    def close(self) -> None:
        """Let go of the file."""
        self._base.close()

    @contextmanager
    def changes(self) -> Iterator[None]:
        """What is put within is kept as a whole, or not at all."""
        with self._told():
            self._base.execute("BEGIN IMMEDIATE")
            self._asked.clear()
            try:
                yield
            except BaseException:
                self._base.execute("ROLLBACK")
                self._names.clear()
                self._texts.clear()
                raise
            self._base.execute("COMMIT")

    def files(self, *, every: bool = False) -> dict[str, IndexedFile]:
        """The files in view by their paths; ``every``: those out of view too."""
        table = "files" if every else self._in_view
        with self._told():
            rows = self._base.execute(f"SELECT path, size, mtime_ns, sha256, fault FROM {table} ORDER BY path")
            return {row[0]: IndexedFile(*row) for row in rows}

    def look_at(self, paths: Iterable[str]) -> None:
        """From here on nothing else is in view: logs of other folders stay in the index and are not listed."""
        with self._told():
            if self._in_view == "files":
                self._base.execute("CREATE TEMP TABLE looked_at(path TEXT PRIMARY KEY) WITHOUT ROWID")
                self._base.execute("CREATE TEMP VIEW in_view AS SELECT files.* FROM files JOIN looked_at USING (path)")
            self._base.execute("DELETE FROM looked_at")
            self._base.executemany("INSERT OR IGNORE INTO looked_at VALUES (?)", ((path,) for path in paths))
        self._in_view = "in_view"

    def has_results(self, sha256: str) -> bool:
        """True when the results of this digest are here, made by this version of the analysis."""
        with self._told():
            asked = "SELECT 1 FROM samples WHERE sha256 = ? AND analysis = ?"
            return self._base.execute(asked, (sha256, self.analysis)).fetchone() is not None

    def digests(self) -> frozenset[str]:
        """Every digest with current results."""
        with self._told():
            rows = self._base.execute("SELECT sha256 FROM samples WHERE analysis = ?", (self.analysis,))
            return frozenset(digest for (digest,) in rows)

    def put_file(self, file: IndexedFile) -> None:
        """Note a file, in place of what was known of it."""
        self._base.execute("INSERT OR REPLACE INTO files VALUES (?, ?, ?, ?, ?)", file)

    def forget_files(self, paths: Iterable[str]) -> None:
        """Files that are no longer there; results that no file rests on go too."""
        self._base.executemany("DELETE FROM files WHERE path = ?", ((path,) for path in paths))
        gone = self._base.execute("SELECT id FROM samples WHERE sha256 NOT IN (SELECT sha256 FROM files)").fetchall()
        self._forget(gone)

    def put(self, facts: Facts, figures: Iterable[NamedFigure]) -> None:
        """The results of one log, in place of older ones of the same digest."""
        old = self._base.execute("SELECT id FROM samples WHERE sha256 = ?", (facts.sha256,)).fetchall()
        self._forget(old)
        marks = ", ".join("?" * (2 + len(_FACTS)))
        made = self._base.execute(f"INSERT INTO samples VALUES ({marks})", (None, self.analysis, *facts))
        sample = made.lastrowid
        rows, parts = [], []
        for named in figures:
            name = self._name(named)
            plain, texts = named.figure[: -len(_SHARED_TEXTS)], named.figure[-len(_SHARED_TEXTS) :]
            rows.append((name, sample, *plain, *(self._text(str(text)) for text in texts)))
            parts += [(name, sample, self._text(part.source), part.amount, part.dof) for part in named.parts]
        marks = ", ".join("?" * (2 + len(_FIGURE)))
        self._base.executemany(f"INSERT INTO figures VALUES ({marks})", rows)
        self._base.executemany("INSERT INTO parts VALUES (?, ?, ?, ?, ?)", parts)

    def _forget(self, samples: list[tuple[int]]) -> None:
        for table, column in (("figures", "sample"), ("parts", "sample"), ("samples", "id")):
            self._base.executemany(f"DELETE FROM {table} WHERE {column} = ?", samples)

    def _name(self, named: NamedFigure) -> int:
        key = (named.name, named.unit)
        if key not in self._names:
            row = (*key, named.headline, named.kind, named.better, named.short)
            self._base.execute("INSERT OR IGNORE INTO names VALUES (NULL, ?, ?, ?, ?, ?, ?)", row)
            found = self._base.execute("SELECT id FROM names WHERE name = ? AND unit = ?", key).fetchone()
            self._names[key] = found[0]
        return self._names[key]

    def _text(self, text: str) -> int:
        """The number of a text that many figures share."""
        if text not in self._texts:
            self._base.execute("INSERT OR IGNORE INTO texts VALUES (NULL, ?)", (text,))
            self._texts[text] = self._base.execute("SELECT id FROM texts WHERE text = ?", (text,)).fetchone()[0]
        return self._texts[text]

    def samples(self) -> list[StoredSample]:
        """Every log in view with results, by sample and time; those of unnamed samples last."""
        with self._told():
            rows = self._base.execute(
                f"SELECT id, {', '.join(f'samples.{name}' for name in _FACTS)}, MIN(path), COUNT(path) - 1 "
                f"FROM samples JOIN {self._in_view} USING (sha256) WHERE analysis = ? GROUP BY id "
                "ORDER BY sample = '', sample, started, id",
                (self.analysis,),
            ).fetchall()
        found = []
        for number, *facts, path, copies in rows:
            for index in _TRUTHS:
                facts[index] = facts[index] == 1
            found.append(StoredSample(number, Facts._make(facts), path, copies))
        return found

    def figure(self, name: str) -> tuple[str, dict[int, Figure]]:
        """The unit of a figure and its value for every sample that has it, by the sample's id.

        Raises `InputError` when the samples state it in several units.
        """
        if name in self._asked:
            return self._asked[name]
        with self._told():
            names = self._base.execute("SELECT id, unit FROM names WHERE name = ? ORDER BY id", (name,)).fetchall()
            found = {unit: self._column(number) for number, unit in names}
        found = {unit: column for unit, column in found.items() if column}
        if len(found) > 1:
            raise InputError(f"the logs state {name} in several units ({', '.join(found)}); rank one kind with --where")
        return self._asked.setdefault(name, next(iter(found.items()), ("", {})))

    def parts(self, name: str) -> dict[int, dict[int, tuple[float, float | None]]]:
        """Of each sample the parts of the figure's uncertainty: source -> amount and degrees of freedom.

        Sources are numbers; 0 is what only this log has.
        """
        with self._told():
            rows = self._base.execute(
                "SELECT sample, source, amount, parts.dof FROM parts JOIN names ON names.id = parts.name "
                "WHERE names.name = ?",
                (name,),
            ).fetchall()
            own = self._base.execute("SELECT id FROM texts WHERE text = ''").fetchone()
        found: dict[int, dict[int, tuple[float, float | None]]] = {}
        for sample, source, amount, dof in rows:
            found.setdefault(sample, {})[0 if source == own[0] else source] = (amount, dof)
        return found

    def _column(self, name: int) -> dict[int, Figure]:
        rows = self._base.execute(f"SELECT sample, {_WANTED} FROM figures {_WITH_TEXTS} WHERE name = ?", (name,))
        return {row[0]: Figure._make(row[1:]) for row in rows}

    def figures_of(self, sample: int) -> list[NamedFigure]:
        """Every figure of one sample, headlines first, then in the order of the results."""
        with self._told():
            rows = self._base.execute(
                f"SELECT names.name, unit, headline, kind, better, short, {_WANTED} FROM figures JOIN names ON "
                f"names.id = figures.name {_WITH_TEXTS} WHERE sample = ? ORDER BY headline DESC, names.id",
                (sample,),
            ).fetchall()
        return [NamedFigure(row[0], row[1], bool(row[2]), Figure._make(row[6:]), *row[3:6]) for row in rows]

    def known_names(self) -> FigureNames:
        """Every name that a figure has or had. Quick: nothing is counted."""
        with self._told():
            rows = self._base.execute("SELECT name, short FROM names").fetchall()
        return FigureNames(frozenset(name for name, _ in rows), {short: name for name, short in rows if short})

    def names(self) -> list[IndexedName]:
        """Every name with the number of samples in view that have it, headlines first."""
        with self._told():
            rows = self._base.execute(
                "SELECT names.name, unit, headline, COUNT(*), kind, better, short FROM names "
                "JOIN figures ON figures.name = names.id WHERE figures.sample IN (SELECT id FROM samples JOIN "
                f"{self._in_view} USING (sha256)) GROUP BY names.id ORDER BY headline DESC, names.id"
            ).fetchall()
        return [IndexedName(name, unit, bool(headline), *rest) for name, unit, headline, *rest in rows]

    def about(self, name: str) -> tuple[str, str]:
        """The kind of a headline's digits and which way it is better; ("", "nearer") of any other figure."""
        with self._told():
            asked = "SELECT kind, better FROM names WHERE name = ? AND headline"
            return self._base.execute(asked, (name,)).fetchone() or ("", "nearer")
