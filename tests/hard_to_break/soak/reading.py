"""One delivery through the stage that reads it and fits it to the tables, in this process: some hundred a second."""

from __future__ import annotations

import hashlib
import random
from pathlib import Path

from pipeline.errors import UserError
from pipeline.incoming.deliveries import DeliveredFile, read_sheets
from pipeline.incoming.headings import SendersWords
from pipeline.incoming.sheet import NotRead
from tests.hard_to_break.soak import judge
from tests.hard_to_break.soak.deliveries import Delivery, csv_delivery, xlsx_delivery

DRAWN = {"csv": csv_delivery, "xlsx": xlsx_delivery}
FOLDER = "seasons/2091/mail"


def faults(kind: str, seed: str, scratch: Path) -> list[str]:
    """kind: csv or xlsx. What is wrong with how the delivery of a seed is read."""
    return _faults_of(DRAWN[kind](random.Random(seed)), scratch)


def _faults_of(delivery: Delivery, scratch: Path) -> list[str]:
    name = f"{FOLDER}/{delivery.name}"
    path = scratch / delivery.name
    path.write_bytes(delivery.content)
    sha256 = hashlib.sha256(delivery.content).hexdigest()
    delivered = DeliveredFile(path, name, FOLDER, 2091, sha256, len(delivery.content))
    try:
        with judge.within(judge.LONGEST_READING):
            sheets = read_sheets(delivered, SendersWords())
    except UserError as problem:
        found = judge.of_refusal(str(problem), name)
        if isinstance(problem, NotRead) and delivery.rows is not None:
            found += judge.of_held(problem, delivery.rows)
        return found
    except (Exception, judge.TooSlow) as problem:
        return [f"{type(problem).__name__}: {problem}"]
    finally:
        path.unlink()
    return judge.of_sheet(sheets[0], delivery.rows) if delivery.rows is not None and sheets else []
