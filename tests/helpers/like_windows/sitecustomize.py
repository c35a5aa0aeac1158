# mypy: ignore-errors
# ruff: noqa: PTH112, PTH116, PTH119
"""Python on Linux with what Windows lacks or forbids, in this process and its children.

``PYTHONPATH=tests/helpers/like_windows python -m pytest ...``

Modules and functions that Windows' Python does not have are gone (library reference, "Availability: Unix"). A file that
is open cannot be renamed, replaced or deleted; `rename` replaces nothing; a folder cannot be opened; links need a right
that users do not have; names that Windows keeps for devices, or does not take, open no file (Microsoft, "Naming Files,
Paths, and Namespaces"). Text files are in the code page cp1252 where no encoding is named; names are Unicode, as on
Windows, so that the shell's locale here has to be one of UTF-8. Case of names, drives and backslashes are not among it.
"""

import builtins
import contextlib
import errno
import io
import os
import shutil
import signal
import subprocess
import sys

MISSING_MODULES = {"fcntl", "grp", "pwd", "pty", "resource", "syslog", "termios", "tty"}
MISSING_FUNCTIONS = set(
    "O_NOFOLLOW O_NONBLOCK O_DIRECTORY O_CLOEXEC chown fchmod fchown fork forkpty getpgid killpg mkfifo mknod nice "  # noqa: SIM905
    "posix_fadvise posix_fallocate setsid sync statvfs fdatasync".split()
)
MISSING_SIGNALS = (
    "SIGALRM",
    "SIGHUP",
    "SIGKILL",
    "SIGPIPE",
    "SIGQUIT",
    "SIGUSR1",
    "SIGUSR2",
    "SIGXCPU",
    "SIGXFSZ",
)
DEVICES = {
    "CON",
    "PRN",
    "AUX",
    "NUL",
    *(f"{kind}{number}" for kind in ("COM", "LPT") for number in range(1, 10)),
}
CODE_PAGE = "cp1252"
NOT_IN_NAMES = set('<>:"|?*\\') | {chr(code) for code in range(32)}


class _NoSuchModule:
    def find_spec(self, name, path=None, target=None):
        """Find no module of these."""
        if name in MISSING_MODULES:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)


def _refuse_name(path):
    if isinstance(path, int):
        return
    name = os.path.basename(os.fsdecode(path))
    if os.fsdecode(path).startswith(("/dev/", "/proc/", "/sys/")):
        return
    if name.partition(".")[0].rstrip().upper() in DEVICES or NOT_IN_NAMES & set(name):
        raise OSError(errno.EINVAL, os.strerror(errno.EINVAL), os.fsdecode(path))
    if name not in (".", "..") and name[-1:] in (".", " "):
        raise OSError(errno.ENOENT, os.strerror(errno.ENOENT), os.fsdecode(path))


def _refuse_open(path):
    """Refuse what a handle of this process stands for."""
    try:
        its = os.stat(path)
        handles = _listdir("/proc/self/fd")
    except OSError:
        return
    for handle in handles:
        try:
            found = os.fstat(int(handle))
        except OSError:
            continue
        if (found.st_dev, found.st_ino) == (its.st_dev, its.st_ino):
            raise PermissionError(errno.EACCES, "used by another process", os.fsdecode(path))


_listdir, _open, _os_open, _mkdir = os.listdir, io.open, os.open, os.mkdir
_replace, _rename, _unlink = os.replace, os.rename, os.unlink


def open_(file, mode="r", buffering=-1, encoding=None, *rest, **more):
    """Open a file whose name can be one; text without an encoding in the code page of western Europe."""
    _refuse_name(file)
    if "b" not in mode and encoding in (None, "locale"):
        encoding = CODE_PAGE
    return _open(file, mode, buffering, encoding, *rest, **more)


def os_open(path, *rest, **more):
    """Open a file; never a folder."""
    _refuse_name(path)
    if os.path.isdir(path):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), os.fsdecode(path))
    return _os_open(path, *rest, **more)


def mkdir(path, *rest, **more):
    """Make a folder whose name can be one."""
    _refuse_name(path)
    return _mkdir(path, *rest, **more)


def replace(old, new, **more):
    """Replace a file that nobody has open."""
    _refuse_name(new)
    _refuse_open(old)
    _refuse_open(new)
    return _replace(old, new, **more)


def rename(old, new, **more):
    """Rename to a name that is free."""
    if os.path.lexists(new):
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), os.fsdecode(new))
    return replace(old, new, **more)


def unlink(path, **more):
    """Delete a file that nobody has open."""
    # Python's own temporary files are made in another way there.
    if "dir_fd" not in more and sys._getframe(1).f_globals.get("__name__") != "tempfile":
        _refuse_open(path)
    return _unlink(path, **more)


def symlink(*_, **__):
    """Make no link: it takes a right that users do not have."""
    raise OSError(1314, "A required privilege is not held by the client")


def install():
    """Take away, and forbid."""
    with contextlib.suppress(ImportError):
        import platformdirs.unix  # noqa: F401  # it takes the branch of this system, which needs what goes
    for name in MISSING_MODULES:
        sys.modules.pop(name, None)
    sys.meta_path.insert(0, _NoSuchModule())
    number = int(signal.SIGKILL)
    subprocess.Popen.kill = subprocess.Popen.terminate = lambda self: self.send_signal(number)
    for module, names in ((os, MISSING_FUNCTIONS), (signal, MISSING_SIGNALS)):
        for name in names:
            if hasattr(module, name):
                delattr(module, name)
    builtins.open = io.open = open_
    os.open, os.mkdir, os.replace, os.rename = os_open, mkdir, replace, rename
    os.unlink = os.remove = unlink
    os.symlink = symlink
    subprocess._text_encoding = lambda: CODE_PAGE  # of pipes in text mode
    shutil._use_fd_functions = False  # of `rmtree`: it opens folders here, and goes by their names there


install()
