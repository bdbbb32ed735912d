"""How far the case base goes: how long it takes and what it holds, by how many cases.

    nice -n 19 python tests/benchmarks/growth.py [100 10000 1000000]

Cases are drawn from the built-in links (tests/shop_draws.py). Up to `FILES` they are
written as files and read as a shop's are; more are given to the index straight away,
as it would read them, for writing a million files measures the disk. Printed for each
count: the time to build the index and its size; to see that no file has changed; to
take one changed file in; to recall (the median and the 95th percentile over many
consultations with ten answers); the same sum by SQL; and the most memory held.
"""

from __future__ import annotations

import os
import resource
import shutil
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent))

from shop_draws import Draws

from diagnose.cases.choose import wanted_roots
from diagnose.cases.index import Entry, Index, _connect, all_cases, fact_key, use
from diagnose.cases.recall import Likeness, recall_from
from diagnose.cases.record import Case, case_text, sheet_of
from diagnose.cases.shop import Shop
from diagnose.cases.watch import watch
from diagnose.consultation import Consultation
from diagnose.knowledge import load_knowledge
from diagnose.model import Model, model_of
from diagnose.records import Knowledge

COUNTS = (100, 10_000, 1_000_000)
FILES = 10_000
AT_A_TIME = 20_000
ASKED = 40
ANSWERS = 10
ROWS = 1_000_000
"""With more cases the same sum by SQL is not measured."""


def with_words(case: Case, knowledge: Knowledge, rng: np.random.Generator) -> Case:
    """The case with what a person would have said of its signs, and what it cost."""
    signs = [knowledge.findings[f] for f, v in case.answers.items() if v == "yes"]
    phrases = [p for sign in signs for p in (sign.name, *sign.phrases)]
    if phrases:
        case.said = [str(one) for one in rng.choice(phrases, size=min(3, len(phrases)))]
    case.minutes = float(rng.integers(10, 120))
    case.prints_lost = int(rng.integers(0, 60))
    case.groups = {"line": str(rng.integers(1, 5))}
    return case


def drawn(
    model: Model, count: int, rng: np.random.Generator
) -> Iterator[tuple[str, Case]]:
    """So many cases with their ids."""
    draws = Draws(model, model.network)
    for start in range(0, count, AT_A_TIME):
        part = draws.cases(min(AT_A_TIME, count - start), rng)
        for number, (id, case) in enumerate(part, start):
            name = f"{id[:10]}-{number:06x}"
            yield name, with_words(case, model.knowledge, rng)


def timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def rss() -> float:
    """The most memory that this process has held, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def by_sql(index: Index, likeness: Likeness, path: Path) -> float:
    """Seconds to add the same up in SQL, from a table of answers by case."""
    if not path.exists():
        with sqlite3.connect(path) as rows:
            rows.execute(
                "CREATE TABLE fact (name TEXT, n INTEGER, PRIMARY KEY (name, n)) "
                "WITHOUT ROWID"
            )
            found = index.connection.execute(
                "SELECT name, block, cases FROM keys JOIN postings USING (key)"
            )
            for name, block, cases in found:
                numbers = np.frombuffer(cases, np.uint16).astype(int) + (block << 16)
                rows.executemany(
                    "INSERT INTO fact VALUES (?, ?)", [(name, int(n)) for n in numbers]
                )
    rows = sqlite3.connect(path)
    rows.execute("CREATE TEMP TABLE weight (name TEXT PRIMARY KEY, bits REAL)")
    rows.executemany(
        "INSERT INTO weight VALUES (?, ?)",
        [
            (fact_key(finding, value), bits)
            for finding, values in likeness.bits.items()
            for value, bits in values.items()
        ],
    )
    query = (
        "SELECT n, sum(bits) FROM weight JOIN fact USING (name) GROUP BY n "
        "ORDER BY 2 DESC LIMIT 3"
    )
    return timed(lambda: rows.execute(query).fetchall())


def measure(count: int, folder: Path, knowledge: Knowledge) -> dict[str, str]:
    """All figures for so many cases."""
    model, rng = model_of(knowledge), np.random.default_rng(count)
    shop = Shop(folder / "shop")
    shop.cases.mkdir(parents=True)
    row = {}
    if count <= FILES:
        for id, case in drawn(model, count, rng):
            shop.path(id).write_text(case_text(case))
        took = timed(lambda: use(shop, knowledge, Index.count))
        row["one file changed"] = f"{one_changed(shop, knowledge) * 1000:.0f} ms"
        time.sleep(4)  # until no file counts as just written
        use(shop, knowledge, Index.count)
        quiet = [timed(lambda: use(shop, knowledge, Index.count)) for _ in range(7)]
        row["look for changes"] = f"{statistics.median(quiet) * 1000:.0f} ms"
        took_all = timed(lambda: all_cases(shop, knowledge))
    else:
        connection = _connect(shop.index)
        index = Index(connection, shop, knowledge)
        entries = (
            Entry(id, 0, False, b"x" * 32, case)
            for id, case in drawn(model, count, rng)
        )
        took = timed(lambda: index.fill(entries))
        entry = Entry("2026-01-01-ffffffff", 0, False, b"y" * 32, None)
        for _, case in drawn(model, 1, rng):
            entry = entry._replace(case=case)
        with index.writing():
            changed = timed(lambda: index.put([entry]))
        row["one file changed"] = f"{changed * 1000:.0f} ms"
        row["look for changes"] = "–"
        connection.close()
        took_all = 0.0
    row["build"] = f"{took:.1f} s"
    row["size"] = f"{shop.index.stat().st_size / 1e6:.0f} MB"
    index = Index(_connect(shop.index), shop, knowledge)
    before = rss()
    times: list[float] = []
    sums: list[float] = []
    for _, case in drawn(model, ASKED, rng):
        sheet = sheet_of(case, knowledge)
        for part in (sheet.set_up, sheet.answers):
            for id in list(part)[ANSWERS // 2 :]:
                del part[id]
        consultation = Consultation(knowledge, sheet)
        assert consultation.look
        start = time.perf_counter()
        likeness = Likeness(consultation)
        recall_from(index, likeness)
        times.append(time.perf_counter() - start)
        if count <= ROWS and len(sums) < 10:
            sums.append(by_sql(index, likeness, folder / "rows.sqlite"))
    times.sort()
    row["recall, median"] = f"{statistics.median(times) * 1000:.0f} ms"
    row["recall, 95 of 100"] = f"{times[int(0.95 * len(times))] * 1000:.0f} ms"
    row["by SQL"] = f"{statistics.median(sums) * 1000:.0f} ms" if sums else "–"
    row["memory in recall"] = f"{max(rss(), before):.0f} MB"
    found = timed(lambda: index.search(wanted_roots("pinholes emulsion")))
    row["search two words"] = f"{found * 1000:.0f} ms"
    if not took_all:
        took_all = timed(index.all)
    row["read all"] = f"{took_all:.1f} s"
    row["watch"] = f"{timed(lambda: watch(index.all().kept, knowledge)):.1f} s"
    row["memory in watch"] = f"{rss():.0f} MB"
    return row


def one_changed(shop: Shop, knowledge: Knowledge) -> float:
    """Seconds to take one changed file in."""
    path = shop.path(shop.ids()[0])
    use(shop, knowledge, Index.count)
    path.write_text(path.read_text() + "notes: changed\n")
    return timed(lambda: use(shop, knowledge, Index.count))


def _child(count: int, folder: str, out: Connection) -> None:
    out.send(measure(count, Path(folder), load_knowledge()))


def main() -> None:
    counts = [int(word) for word in sys.argv[1:]] or list(COUNTS)
    rows: dict[int, dict[str, str]] = {}
    for count in counts:  # each in a process of its own, for its memory
        folder = tempfile.mkdtemp(prefix="growth-")
        ours, theirs = get_context("spawn").Pipe()
        process = get_context("spawn").Process(
            target=_child, args=(count, folder, theirs)
        )
        process.start()
        theirs.close()
        try:
            rows[count] = ours.recv()
        finally:
            process.join()
            shutil.rmtree(folder, ignore_errors=True)
        print(count, rows[count], f"load {os.getloadavg()[0]:.1f}", flush=True)
    print("| cases | " + " | ".join(f"{count:,}" for count in rows) + " |")
    print("| --- " * (len(rows) + 1) + "|")
    for name in next(iter(rows.values())):
        print(f"| {name} | " + " | ".join(row[name] for row in rows.values()) + " |")
    print(f"Load at the end {os.getloadavg()[0]:.1f}.")


if __name__ == "__main__":
    main()
