"""A process to be killed: threads append entries and print the id of each acknowledged one."""

from __future__ import annotations

import sys
import threading
import uuid
from pathlib import Path

from kb.base.database import Store
from kb.incidents.store import Record
from tests.incidents.telling import HOTLINE, entry

THREADS = 8


def append_for_ever(record: Record, worker: int, printing: threading.Lock) -> None:
    while True:
        told = entry("note.added", {"text": str(uuid.uuid4())}, incident=f"case-{worker}")
        (receipt,) = record.take([told], HOTLINE)
        assert receipt.state == "new", receipt
        with printing:
            sys.stdout.write(f"{receipt.id} {receipt.sequence}\n")
            sys.stdout.flush()


def main() -> None:
    record, printing = Record(Store(Path(sys.argv[1]))), threading.Lock()
    for worker in range(THREADS):
        threading.Thread(target=append_for_ever, args=(record, worker, printing)).start()


if __name__ == "__main__":
    main()
