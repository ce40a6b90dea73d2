"""Runs the container file's steps in a bare root of another Debian, then commands in it as its user.

    python3 -m tests.bare_root --release trixie -- make report

Needs root, debootstrap and a mirror, which most machines lack. Without them it says so and exits with NOT_TRIED.
Only the standard library is used, so that any Python 3.11 runs it before this checkout is set up.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
from pathlib import Path

from tests.bare_root.container_file import Step, read_steps

CHECKOUT = Path(__file__).parents[2]
CERTIFICATES = "/etc/certificates-of-host.crt"
NOT_TRIED = 77  # as test runners say "skipped", common practice, no source
HANDED_ON = ("http_proxy", "https_proxy", "no_proxy", "PIP_DEFAULT_TIMEOUT")


class Root:
    """A folder that commands run in as if it were the whole system, outside every other process's mounts."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.user, self.place, self.environment = folder, "root", "/", self._environment()

    def make(self, release: str) -> bool:
        """Debian's minimal system; False where it cannot be had."""
        shutil.rmtree(self.folder, ignore_errors=True)
        self.folder.mkdir(parents=True)
        done = subprocess.run(
            ["debootstrap", "--variant=minbase", release, self.folder],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.STDOUT,
        )
        if done.returncode:
            return False
        for name in ("/etc/resolv.conf", "/etc/hosts"):
            shutil.copy(name, self.folder / name.lstrip("/"))
        if (known := certificates_here()) is not None:
            shutil.copy(known, self.folder / CERTIFICATES.lstrip("/"))
        return True

    def run(self, command: str) -> None:
        """A shell command as the user and in the place that the steps have come to. Raises CalledProcessError."""
        inside = f"cd {self.place} && {command}"
        mounts = f"mount -t proc proc {self.folder}/proc && mount --rbind /dev {self.folder}/dev"
        enter = ["chroot", f"--userspec={self.user}", str(self.folder), "/bin/sh", "-c", inside]
        words = ["unshare", "--mount", "--fork", "--kill-child", "sh", "-c", f'{mounts} && exec "$@"', "sh", *enter]
        subprocess.run(words, env=self.environment, check=True)

    def follow(self, step: Step) -> None:
        """One step of the container file."""
        if step.word == "RUN":
            self.run(step.text)
        elif step.word == "WORKDIR":
            self.place = step.text
        elif step.word == "USER":
            self.user = step.text
            self.environment |= {"HOME": f"/home/{step.text}"}
        elif step.word == "ENV":
            self.environment |= dict([step.text.split("=", 1)])
        elif step.word == "COPY":
            self._copy_checkout()

    def _copy_checkout(self) -> None:
        """The files git knows, with what was changed in them; owned by the user of the image."""
        listed = subprocess.run(["git", "-C", CHECKOUT, "ls-files", "-z"], capture_output=True, check=True).stdout
        for name in listed.decode().split("\0"):
            source, target = CHECKOUT / name, self.folder / self.place.lstrip("/") / name
            if name and source.is_file():
                target.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy(source, target)
        subprocess.run(["chown", "-R", "1000:1000", self.folder / self.place.lstrip("/")], check=True)

    @staticmethod
    def _environment() -> dict[str, str]:
        handed = {name: os.environ[name] for name in HANDED_ON if name in os.environ}
        certificates = dict.fromkeys(("SSL_CERT_FILE", "PIP_CERT"), CERTIFICATES) if certificates_here() else {}
        path = "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin"
        return handed | certificates | {"PATH": path, "HOME": "/root", "LC_ALL": "C.UTF-8"}


def certificates_here() -> Path | None:
    """The certificates that this machine trusts, which may be more than a bare system's."""
    known = Path(os.environ.get("SSL_CERT_FILE", "/etc/ssl/certs/ca-certificates.crt"))
    return known if known.is_file() else None


def lacking() -> str:
    """Why no bare root can be made here; empty where one can."""
    if os.name != "posix" or os.geteuid() != 0:
        return "only root may make one"
    for program in ("debootstrap", "unshare", "chroot"):
        if shutil.which(program) is None:
            return f"{program} is not installed"
    if subprocess.run(["unshare", "--mount", "true"], capture_output=True).returncode:
        return "mounts of its own are not allowed"
    return ""


def main() -> int:
    parser = argparse.ArgumentParser(prog="tests.bare_root", description=__doc__.split("\n")[0])
    parser.add_argument("--release", required=True, help="Debian release, such as bookworm or trixie")
    parser.add_argument("--folder", type=Path, default=CHECKOUT / "build" / "bare-root")
    parser.add_argument("commands", nargs="*", help="commands to run at the end, each one word for the shell")
    asked = parser.parse_args()
    root, why = Root(asked.folder / asked.release), lacking()
    if not why and not root.make(asked.release):
        why = f"debootstrap cannot make {asked.release} (no mirror is reached?)"
    if why:
        print(f"No bare {asked.release} was tried: {why}.")
        return NOT_TRIED
    try:
        for step in read_steps(CHECKOUT / ".setup" / "Containerfile"):
            root.follow(step)
        for command in asked.commands:
            root.run(command)
    except subprocess.CalledProcessError as problem:
        print(f"Failed in a bare {asked.release}: {problem.cmd[-1]}", file=sys.stderr)
        return 1
    print(f"A bare {asked.release} did all of it.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
