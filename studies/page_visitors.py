"""Who gets into the page from another machine: tried in a network namespace with an address of its own.

    sudo python studies/page_visitors.py

Linux with ``ip netns`` and the right to use it. A namespace is a machine of its own as far as the network
goes: it asks the page over a pair of virtual cards, with and without ``--workshop``, by the address, by a
foreign name that points here, from a foreign page, and with a write. Nothing is left behind.
"""

import argparse
import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
SPACE, CARD, FAR_CARD = "fitsim-visitor", "fitsim0", "fitsim1"
HERE, THERE, PORT = "10.213.77.1", "10.213.77.2", 7255
ASK = """
import http.client, sys
host, headers, method, path, body = eval(sys.argv[1])
try:
    link = http.client.HTTPConnection(host, {port}, timeout=5)
    link.request(method, path, body, headers)
    reply = link.getresponse()
    print(reply.status, reply.getheader("content-type"))
except OSError as error:
    print(type(error).__name__)
"""


def ip(*words: str) -> None:
    """One change to the network."""
    subprocess.run(["ip", *words], check=True)


def asked(
    host: str, headers: dict[str, str], method: str = "GET", path: str = "/page.css", body: str = ""
) -> str:
    """What the visitor gets."""
    words = ["ip", "netns", "exec", SPACE, sys.executable, "-c", ASK.format(port=PORT)]
    done = subprocess.run(
        [*words, repr((host, headers, method, path, body or None))],
        capture_output=True,
        text=True,
        check=False,
    )
    return done.stdout.strip() or done.stderr.strip().splitlines()[-1]


def tried(workshop: bool) -> None:
    """Serve a page and let the visitor try."""
    with tempfile.TemporaryDirectory() as folder:
        bowl = Path(folder) / "bowl.toml"
        bowl.write_text('[board]\nthickness = "17 mm"\nacross = "160 mm"\n[cut]\ntilt = "7 deg"\n', "utf8")
        command = [sys.executable, "-m", "fitsim", "page", str(bowl), "--no-browser", "--port", str(PORT)]
        page = subprocess.Popen(
            [*command, *(["--workshop"] if workshop else [])], cwd=ROOT, text=True, stderr=subprocess.PIPE,
            env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
        )  # fmt: skip
        try:
            while subprocess.run(
                ["curl", "-s", "-o", "/dev/null", f"http://127.0.0.1:{PORT}/"], check=False
            ).returncode:
                pass
            print(f"\n{'with' if workshop else 'without'} --workshop")
            print("  by the address it was told:   ", asked(HERE, {}))
            print("  the page itself:              ", asked(HERE, {}, path="/"))
            print("  by a foreign name:            ", asked(HERE, {"Host": f"bowl.example:{PORT}"}))
            print("  from a foreign page:          ", asked(HERE, {"Origin": "http://bowl.example"}))
            print(
                "  a file opened:                ",
                asked(HERE, {}, "POST", "/open", bowl.read_text("utf8")),
            )
            print("  a file put:                   ", asked(HERE, {}, "PUT", "/bowl.toml", "x"))
            print("  a way out of the folder:      ", asked(HERE, {}, path="/../pyproject.toml"))
            print("  files in the bowl's folder:   ", sorted(path.name for path in Path(folder).iterdir()))
        finally:
            page.terminate()
            said = page.communicate()[1]
        print("  the owner is told:")
        print("".join(f"    {line}\n" for line in said.splitlines()), end="")


def main() -> None:
    """Make the namespace, try, and take it away."""
    ip("netns", "add", SPACE)
    try:
        ip("link", "add", CARD, "type", "veth", "peer", "name", FAR_CARD)
        ip("link", "set", FAR_CARD, "netns", SPACE)
        ip("addr", "add", f"{HERE}/24", "dev", CARD)
        ip("link", "set", CARD, "up")
        for words in (["addr", "add", f"{THERE}/24", "dev", FAR_CARD], ["link", "set", FAR_CARD, "up"]):
            ip("netns", "exec", SPACE, "ip", *words)
        for workshop in (False, True):
            tried(workshop)
    finally:
        ip("netns", "del", SPACE)
        subprocess.run(["ip", "link", "del", CARD], check=False, capture_output=True)


if __name__ == "__main__":
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter).parse_args()
    main()
