"""Whether a port of this machine is free. Standard library only."""

from __future__ import annotations

import os
import socket

HOST = "127.0.0.1"
LAST_PORT = 65_535


def port_problem(port: int) -> str | None:
    """One plain line when nothing can listen on the port; None when it is free."""
    if not 1 <= port <= LAST_PORT:
        return f"Port {port} does not exist. Choose one from 1 to {LAST_PORT} with --port."
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        if os.name != "nt":
            # Without it a port that was closed a minute ago still counts as taken; a listener still refuses.
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, port))
        except PermissionError:
            return f"Port {port} is not allowed for you. Choose one above 1023 with --port."
        except OSError:
            return f"Port {port} is already in use. Stop what listens there or choose another with --port."
    return None


def free_port() -> int:
    """A port that was free a moment ago."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        probe.bind((HOST, 0))
        return int(probe.getsockname()[1])
