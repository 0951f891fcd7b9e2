"""nginx as the README sets it up before Halfpower, with a certificate of its own, for tests."""

import re
import shutil
import socket
import ssl
import subprocess
import time
from contextlib import contextmanager

from served import PATIENCE_S, ROOT, free_port

NGINX = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin:/usr/local/sbin")
NAME = "pool.example.org"
FRAME = """
daemon off; master_process off; pid {folder}/nginx.pid; events {{}}
http {{
  access_log off; error_log {folder}/error.log;
  client_body_temp_path {folder}/1; proxy_temp_path {folder}/2; fastcgi_temp_path {folder}/3;
  uwsgi_temp_path {folder}/4; scgi_temp_path {folder}/5;
  {server}
}}
"""


@contextmanager
def nginx(folder, behind):
    """Its port, and what trusts its certificate for that name only; it passes on to the port `behind`."""
    port = free_port()
    certify(folder)
    (folder / "nginx.conf").write_text(FRAME.format(folder=folder, server=of_the_readme(folder, port, behind)))
    command = [NGINX, "-p", folder, "-c", folder / "nginx.conf", "-e", "stderr"]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as process:
        try:
            until = time.monotonic() + PATIENCE_S
            while not answers(port):
                assert process.poll() is None and time.monotonic() < until, process.stderr.read()
                time.sleep(0.02)
            yield port, ssl.create_default_context(cafile=folder / "pool.pem")
        finally:
            process.terminate()


def certify(folder):
    subject = ["-subj", f"/CN={NAME}", "-addext", f"subjectAltName=DNS:{NAME}"]
    kept = ["-keyout", folder / "pool.key", "-out", folder / "pool.pem"]
    command = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", *subject, *kept]
    subprocess.run(command, check=True, capture_output=True)


def of_the_readme(folder, port, behind):
    """What it shows, at other ports and with files of the test's own."""
    (server,) = re.findall(r"```\n(server \{.*?\n\})\n```", (ROOT / "README.md").read_text("utf-8"), re.DOTALL)
    here = {
        "443 ssl": f"127.0.0.1:{port} ssl",
        "/etc/ssl/certs/pool.pem": f"{folder}/pool.pem",
        "/etc/ssl/private/pool.key": f"{folder}/pool.key",
        "127.0.0.1:8000": f"127.0.0.1:{behind}",
    }
    for written, ours in here.items():
        assert written in server
        server = server.replace(written, ours)
    return server


def answers(port):
    try:
        socket.create_connection(("127.0.0.1", port)).close()
    except OSError:
        return False
    return True
