"""Builds what the virtual machine boots: a stock Debian kernel, and a small root with gaugelink.

``python tests/kernel/kernel_image.py FOLDER`` builds it there; a kernel that lies there already is
not fetched again. Nothing is installed or mounted, and nothing but the kernel is fetched: python
and the packages that gaugelink needs are copied from the environment that runs this.
"""

from __future__ import annotations

import compileall
import importlib.metadata
import lzma
import os
import platform
import re
import shutil
import stat
import subprocess
import sys
import sysconfig
from collections.abc import Sequence
from pathlib import Path

HERE = Path(__file__).parent
PACKAGE = HERE.parents[1] / "gaugelink"
TOOLS = {  # what is called, and the Debian package that has it
    "qemu-system-x86_64": "qemu-system-x86",
    "busybox": "busybox-static",
    "depmod": "kmod",
    "cpio": "cpio",
    "mksquashfs": "squashfs-tools",
    "debugfs": "e2fsprogs",
    "mkfs.vfat": "dosfstools",
    "mcopy": "mtools",
    "apt-get": "apt",
}
# Debian's programs for file systems lie where only root looks.
PATH = os.pathsep.join((os.environ.get("PATH", ""), "/usr/sbin", "/sbin"))
# To find the root; then both ends of the cables, and the file systems.
FIRST_MODULES = ("virtio_pci", "virtio_blk", "squashfs", "overlay")
MODULES = (
    *("dummy_hcd", "libcomposite", "usb_f_acm", "usb_f_hid"),
    *("cdc_acm", "usbhid", "hid_generic", "evdev", "uhci_hcd", "ftdi_sio"),
    *("ext4", "crc32c_generic", "vfat", "nls_cp437", "nls_ascii", "nls_utf8"),
)
NOT_NEEDED = ("site-packages", "dist-packages", "test", "tests", "idlelib", "tkinter", "lib2to3")
NEVER_READ = ("ensurepip", "turtledemo", "pydoc_data", "config-*", "*.a", "*.opt-?.pyc")


def missing() -> str:
    """Say why no kernel can be booted here; empty when it can."""
    if not sys.platform.startswith("linux") or platform.machine() != "x86_64":
        return "The kernel lab needs Linux on x86-64."
    lacking = {package for tool, package in TOOLS.items() if not shutil.which(tool, path=PATH)}
    if lacking:
        return f"The kernel lab needs the Debian packages {' '.join(sorted(lacking))}."
    known = run("apt-cache", "show", "--no-all-versions", "linux-image-amd64", check=False)
    return "" if known else "The kernel lab needs apt's list of packages, to fetch a kernel."


def run(*command: str | Path, check: bool = True, cwd: Path | None = None) -> str:
    """Run a program and return what it printed."""
    done = subprocess.run(
        command,
        cwd=cwd,
        env={**os.environ, "PATH": PATH},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
    )
    if check and done.returncode:
        raise RuntimeError(f"{command[0]} ended with {done.returncode}: {done.stderr[-2000:]}")
    return done.stdout


def build(out: Path) -> None:
    """Make ``vmlinux``, ``first.cpio`` and ``root.sqfs`` in a folder."""
    out.mkdir(parents=True, exist_ok=True)
    kernel = _fetched_kernel(out)
    (version,) = os.listdir(kernel / "lib" / "modules")
    run("depmod", "-b", kernel, version)
    _unpack(kernel / "boot" / f"vmlinuz-{version}", out / "vmlinux")
    for name in ("first", "root"):
        shutil.rmtree(out / name, ignore_errors=True)
    first = _modules(kernel, version, FIRST_MODULES)
    rest = [path for path in _modules(kernel, version, MODULES) if path not in first]
    _make_first(out / "first", first)
    _make_root(out / "root", rest)
    pack_root(out)
    archive = "find . | cpio -o -H newc --quiet > ../first.cpio"
    run("sh", "-c", archive, cwd=out / "first")


def pack_root(out: Path) -> None:
    """Put the guest's programs into the root as they are now, and make its image."""
    shutil.copytree(HERE / "guest", out / "root" / "lab", dirs_exist_ok=True)
    shutil.copy2(HERE / "guest" / "init.sh", out / "root" / "init")
    quick = ("-comp", "zstd", "-Xcompression-level", "3", "-noappend", "-quiet", "-no-progress")
    run("mksquashfs", out / "root", out / "root.sqfs", *quick)


def _fetched_kernel(out: Path) -> Path:
    """Fetch the kernel that Debian's metapackage stands for, unless it is there, and unpack it."""
    if not (out / "kernel").exists():
        found = re.search(
            r"Depends: (linux-image-\S+)", run("apt-cache", "depends", "linux-image-amd64")
        )
        assert found, "linux-image-amd64 depends on no kernel"
        run("apt-get", "download", "-qq", found[1], cwd=out)
        (archive,) = out.glob("linux-image-*.deb")
        run("dpkg", "-x", archive, out / "unpacked")
        archive.unlink()
        (out / "unpacked").rename(out / "kernel")
    return out / "kernel"


def _unpack(vmlinuz: Path, vmlinux: Path) -> None:
    """Take the ELF image out of a kernel: the guest would take five seconds to do it."""
    packed = vmlinuz.read_bytes()
    start = packed.index(b"\xfd7zXZ\x00")
    image = lzma.LZMADecompressor(format=lzma.FORMAT_XZ).decompress(packed[start:])
    assert image.startswith(b"\x7fELF"), f"{vmlinuz} holds no ELF image"
    vmlinux.write_bytes(image)


def _modules(kernel: Path, version: str, names: Sequence[str]) -> list[Path]:
    """Return the files of some modules and of what they need, in the order of loading."""
    said = run("modprobe", "-S", version, "-d", kernel, "-D", "-a", *names)
    paths = (Path(line.split()[1]) for line in said.splitlines() if line.startswith("insmod"))
    return list(dict.fromkeys(paths))


def _lay_modules(folder: Path, listing: Path, modules: Sequence[Path]) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for path in modules:
        shutil.copy2(path, folder)
    listing.write_text("".join(f"{path.name}\n" for path in modules), encoding="ascii")


def _make_first(root: Path, modules: Sequence[Path]) -> None:
    """Lay out what finds the root and goes over to it."""
    for name in ("bin", "dev", "ro", "rw", "new"):
        (root / name).mkdir(parents=True)
    busybox = shutil.which("busybox", path=PATH)
    assert busybox
    shutil.copy2(busybox, root / "bin" / "busybox")
    (root / "bin" / "sh").symlink_to("busybox")
    _lay_modules(root / "modules", root / "modules.txt", modules)
    shutil.copy2(HERE / "guest" / "first.sh", root / "init")


def _make_root(root: Path, modules: Sequence[Path]) -> None:
    for name in ("bin", "dev", "etc", "mnt", "proc", "root", "run", "sys", "tmp"):
        (root / name).mkdir(parents=True)
    busybox = shutil.which("busybox", path=PATH)
    assert busybox
    shutil.copy2(busybox, root / "bin" / "busybox")
    for applet in run("busybox", "--list").split():
        if applet != "busybox":
            (root / "bin" / applet).symlink_to("busybox")
    (root / "etc" / "passwd").write_text("root:x:0:0::/root:/bin/sh\n", encoding="ascii")
    _copy_python(root)
    _copy_gaugelink(root / "site")
    _copy_libraries(root)
    _lay_modules(root / "modules", root / "modules.txt", modules)


def _copy_python(root: Path) -> None:
    program = Path(os.path.realpath(getattr(sys, "_base_executable", sys.executable)))
    library = Path(sysconfig.get_path("stdlib"))
    for path in (program, library):
        _under(root, path).parent.mkdir(parents=True, exist_ok=True)
    shutil.copy2(program, _under(root, program))
    left_out = shutil.ignore_patterns(*NOT_NEEDED, *NEVER_READ)
    shutil.copytree(library, _under(root, library), ignore=left_out)
    (root / "bin" / "python3").symlink_to(program)


def _copy_gaugelink(site: Path) -> None:
    """Copy the package from this checkout, and what it needs from this environment."""
    for dist in _needed("gaugelink", {}):
        for file in dist.files or ():
            source = Path(str(dist.locate_file(file)))
            if ".." in file.parts or "tests" in file.parts or not source.is_file():
                continue
            (site / file).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(source, site / file)
    shutil.rmtree(site / PACKAGE.name, ignore_errors=True)
    shutil.copytree(PACKAGE, site / PACKAGE.name)
    compileall.compile_dir(site, quiet=2)


def _needed(
    name: str, known: dict[str, importlib.metadata.Distribution]
) -> Sequence[importlib.metadata.Distribution]:
    """Return a distribution and all that it needs here."""
    from packaging.requirements import Requirement

    if name.lower() not in known:
        known[name.lower()] = dist = importlib.metadata.distribution(name)
        for needed in map(Requirement, dist.requires or ()):
            if needed.marker is None or needed.marker.evaluate({"extra": ""}):
                _needed(needed.name, known)
    return [*known.values()]


def _copy_libraries(root: Path) -> None:
    """Copy every shared library that a program or an extension in the root is linked with."""
    programs = [path for path in root.rglob("*") if _is_linked(path)]
    said = run("ldd", *programs, check=False)
    for name in sorted({*re.findall(r"(?:=> |^\s+)(/\S+) \(0x", said, flags=re.MULTILINE)}):
        if not name.startswith(f"{root}/") and not _under(root, Path(name)).exists():
            _under(root, Path(name)).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(name, _under(root, Path(name)))


def _is_linked(path: Path) -> bool:
    if path.is_symlink() or not path.is_file() or path.name == "busybox":
        return False
    return ".so" in path.suffixes or bool(path.stat().st_mode & stat.S_IXUSR and _is_elf(path))


def _is_elf(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(4) == b"\x7fELF"


def _under(root: Path, path: Path) -> Path:
    return root / path.relative_to("/")


if __name__ == "__main__":
    if why := missing():
        sys.exit(why)
    build(Path(sys.argv[1]))
