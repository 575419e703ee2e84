"""The server for real use: waitress, on every system, with a message that says where it is."""

from __future__ import annotations

import gc
import logging
import signal
import sys
import threading

from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]
from waitress.server import create_server

from kb.base.clock import now
from kb.base.errors import StateError
from kb.incidents.store import keys
from kb.incidents.store.folder import Folder
from kb.incidents.store.hourly import make_due
from kb.library.article import Library
from kb.search.store import KeptVectors
from kb.web.app import create_app
from kb.web.county import open_county

THREADS = 8
# How late a checkpoint that is due may be made, in seconds.
SIGNING_LOOKS = 30
log = logging.getLogger(__name__)


def serve(
    folder: Folder, library: Library, host: str, port: int, vectors: KeptVectors | None = None
) -> None:
    """Serve until interrupted. Raises StateError where the port is taken."""
    app = create_app(open_county(folder, library, vectors))
    # What was loaded stays for good, and thousands of cases are kept: to look through all of it
    # for garbage would hold up every answer for a tenth of a second, again and again.
    gc.freeze()
    gc.set_threshold(50_000, 20, 100)
    try:
        server = create_server(
            app,
            host=host,
            port=port,
            threads=THREADS,
            ident=None,
            # The proxy's headers are for the application, which takes them only where it may.
            clear_untrusted_proxy_headers=not folder.settings.trusted_proxy,
        )
    except (OSError, ValueError) as error:
        raise StateError(
            f"Port {port} of {host} cannot be used ({error}). Name another: --port 8001"
        ) from error
    logging.getLogger("waitress").setLevel(logging.ERROR)
    address = f"http://{host}:{getattr(server, 'effective_port', port)}/"
    ending = threading.Event()
    signing = threading.Thread(target=sign_while_serving, args=(folder, ending), name="signing")
    # Asked to end (by the system, or a supervisor), end as by Ctrl+C: finish and clean up. That
    # can happen at any moment from here on, so all of it is inside.
    try:
        signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
        signing.start()
        if folder.standby is not None:
            folder.standby.start()
        sys.stdout.write(f"Latchbook is at {address}  (stop it with Ctrl+C)\n")
        sys.stdout.flush()
        server.run()
    finally:
        ending.set()
        if signing.is_alive():
            signing.join()
        if folder.standby is not None:
            folder.standby.stop()
        folder.close()


def sign_while_serving(folder: Folder, ending: threading.Event) -> None:
    """Make the checkpoints that are due until `ending` is set; without a key, wait for one."""
    while True:
        if keys.there(folder.path):
            try:
                make_due(folder.record, folder.checkpoints, now())
            except (StateError, sqlite3.Error):
                log.exception("the checkpoints that are due could not be made; trying again")
        if ending.wait(SIGNING_LOOKS):
            return
