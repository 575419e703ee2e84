"""A line of 1 Mbit/s, 300 ms to and fro, as a proxy: a browser's own throttle misses workers."""

from __future__ import annotations

import queue
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

BITS_A_SECOND = 1_000_000
ROUND_TRIP = 0.3
_PIECE = 1500


class _Line:
    """One direction, shared by all connections: a byte leaves when those before it have left."""

    def __init__(self) -> None:
        self._free = time.monotonic()
        self._lock = threading.Lock()

    def carry(self, size: int) -> float:
        """When the last of these bytes arrives at the other end."""
        with self._lock:
            self._free = max(self._free, time.monotonic()) + size * 8 / BITS_A_SECOND
            return self._free + ROUND_TRIP / 2


@contextmanager
def slow_line(host: str, port: int) -> Iterator[int]:
    """The port of a proxy to a server, over such a line."""
    up, down = _Line(), _Line()
    listening = socket.create_server(("127.0.0.1", 0))

    def serve() -> None:
        while True:
            try:
                near, _ = listening.accept()
            except OSError:
                return
            threading.Thread(target=connect, args=(near,), daemon=True).start()

    def connect(near: socket.socket) -> None:
        time.sleep(ROUND_TRIP)  # the connection's own round trip
        far = socket.create_connection((host, port))
        for source, target, line in ((near, far, up), (far, near, down)):
            threading.Thread(target=_pump, args=(source, target, line), daemon=True).start()

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    try:
        yield listening.getsockname()[1]
    finally:
        listening.close()


def _pump(source: socket.socket, target: socket.socket, line: _Line) -> None:
    """Read as fast as it comes, and hand on each piece when it arrives at the other end."""
    on_the_way: queue.SimpleQueue[tuple[float, bytes]] = queue.SimpleQueue()
    arriving = threading.Thread(target=_arrive, args=(on_the_way, target), daemon=True)
    arriving.start()
    try:
        while piece := source.recv(_PIECE):
            on_the_way.put((line.carry(len(piece)), piece))
    except OSError:
        pass
    finally:
        on_the_way.put((0.0, b""))
        arriving.join()
        for one in (source, target):
            one.close()


def _arrive(on_the_way: queue.SimpleQueue[tuple[float, bytes]], target: socket.socket) -> None:
    try:
        while (item := on_the_way.get())[1]:
            time.sleep(max(0.0, item[0] - time.monotonic()))
            target.sendall(item[1])
    except OSError:
        pass
