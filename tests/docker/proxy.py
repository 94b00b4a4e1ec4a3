"""The shipped proxy, run by Debian's nginx: its files as they are, but for ports, folders and where the service is.

What is put in place of what stands in docker/nginx is listed here whole, and has to be found there.
"""

import os
import shutil
import signal
import socket
import subprocess
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.docker.dockerfile import TOP

SHIPPED = TOP / "docker" / "nginx"
needs_nginx = pytest.mark.skipif(shutil.which("nginx") is None and not os.environ.get("CI"), reason="nginx is not here")


@dataclass(frozen=True)
class Proxy:
    """Where the proxy listens, its process, and what it has logged."""

    port: int
    process: "subprocess.Popen[bytes]"
    log: Path


def free_ports(count: int) -> list[int]:
    """So many ports that nobody listens on."""
    probes = [socket.socket() for _ in range(count)]
    for probe in probes:
        probe.bind(("127.0.0.1", 0))
    ports = [probe.getsockname()[1] for probe in probes]
    for probe in probes:
        probe.close()
    return ports


@contextmanager
def running_proxy(folder: Path, services: Sequence[int], certificate: tuple[Path, Path] | None = None
                  ) -> Iterator[Proxy]:
    """The proxy in front of services on these ports of the loopback; with TLS, if there is a certificate and a key."""
    port, health = free_ports(2)
    main = write_configuration(folder, port, health, services, certificate)
    log = folder / "access.log"
    with log.open("wb") as logged:
        process = subprocess.Popen(["nginx", "-c", str(main), "-e", "stderr", "-g", "daemon off;"], stdout=logged,
                                   stderr=logged)
    try:
        _wait_for(health, process, log)
        yield Proxy(port, process, log)
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(timeout=20)


def write_configuration(folder: Path, port: int, health: int, services: Sequence[int],
                        certificate: tuple[Path, Path] | None = None) -> Path:
    """The shipped files with this machine's places in them; returns the first."""
    folder.mkdir(parents=True, exist_ok=True)
    folder.chmod(0o755)
    upstream = "\n".join(f"server 127.0.0.1:{service} max_fails=0;" for service in services)
    into = {
        "nginx.conf": {
            # As root its workers would be somebody else, who cannot write into the folder.
            "worker_processes auto;": f"worker_processes 1; {'user root;' if os.geteuid() == 0 else ''}",
            "/var/cache/nginx/": f"{folder}/",
            "127.0.0.1:8081": f"127.0.0.1:{health}",
            "/etc/nginx/seamcost/listen.conf": f"{folder}/listen.conf",
            "http {": f"http {{ upstream seamcost {{ {upstream} }}"},
        "listen.conf": {"listen 8080": f"listen 127.0.0.1:{port}", "/etc/nginx/seamcost/": f"{folder}/"},
        "passing.conf": {"service:8765": "seamcost"},
    }
    if certificate is not None:
        into["listen.conf"] = {"listen 8443": f"listen 127.0.0.1:{port}", "/etc/nginx/seamcost/": f"{folder}/",
                               "/run/secrets/tls_certificate": str(certificate[0]),
                               "/run/secrets/tls_key": str(certificate[1])}
    for name, places in into.items():
        text = (SHIPPED / (name if certificate is None or name != "listen.conf" else "listen-tls.conf")).read_text()
        for shipped, here in places.items():
            assert shipped in text, f"{shipped} is not in {name} any more"
            text = text.replace(shipped, here)
        (folder / name).write_text(text)
    return folder / "nginx.conf"


def _wait_for(port: int, process: "subprocess.Popen[bytes]", log: Path) -> None:
    until = time.monotonic() + 20
    while True:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
            return
        except OSError:
            assert process.poll() is None, log.read_text()
            assert time.monotonic() < until, "nginx does not listen"
            time.sleep(0.05)
