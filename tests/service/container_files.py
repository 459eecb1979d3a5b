"""Documents and wrappings that hold pictures, made for the tests: DOCX, ODT, PDF, winmail.dat, a saved mail (.msg)."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib

#: Entries of a compound file: a folder is a dict, a stream its bytes.
Folder = dict[str, "Folder | bytes"]
_FREE, _END, _FAT = 0xFFFFFFFF, 0xFFFFFFFE, 0xFFFFFFFD


def docx(*pictures: bytes, **more: bytes) -> bytes:
    files = {
        "[Content_Types].xml": b"<Types/>",
        "word/document.xml": b"<w:document>Please do not show it.</w:document>",
    }
    files |= {f"word/media/image{k}.png": data for k, data in enumerate(pictures, 1)}
    return zipped(files | {name.replace("_", "/", 1): data for name, data in more.items()})


def odt(*pictures: bytes) -> bytes:
    files = {"mimetype": b"application/vnd.oasis.opendocument.text", "content.xml": b"<x/>"}
    files |= {f"Pictures/{k}.png": data for k, data in enumerate(pictures, 1)}
    return zipped(files | {"META-INF/manifest.xml": b"<manifest/>"})


def zipped(files: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return out.getvalue()


def pdf(*jpegs: bytes, packed: tuple[int, int] | None = None, more: tuple[bytes, ...] = ()) -> bytes:
    """jpegs: kept as they are; packed: size of a grey picture that is only packed; more: objects as they stand."""
    objects = [b"<< /Type /Catalog /Pages 2 0 R >>", b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>"]
    objects.append(b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 9 9] >>")
    head = b"<< /Type /XObject /Subtype /Image /Width %d /Height %d /ColorSpace /DeviceGray /BitsPerComponent 8 /Filter /%s"
    objects += [image(head % (9, 9, b"DCTDecode"), data) for data in jpegs]
    if packed:
        data = zlib.compress(bytes(k % 251 for k in range(packed[0] * packed[1])))
        objects.append(image(head % (*packed, b"FlateDecode"), data))
    out = b"%PDF-1.7\n"
    places = []
    for k, one in enumerate((*objects, *more), 1):
        places.append(len(out))
        out += b"%d 0 obj\n%s\nendobj\n" % (k, one)
    table = b"".join(b"%010d 00000 n \n" % at for at in places)
    size = len(places) + 1
    return out + b"xref\n0 %d\n0000000000 65535 f \n%strailer << /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n" % (
        size, table, size, len(out),
    )  # fmt: skip


def image(head: bytes, data: bytes) -> bytes:
    return head + b" /Length %d >>\nstream\n%s\nendstream" % (len(data), data)


def winmail(*files: tuple[str, bytes], text: str = "") -> bytes:
    out = struct.pack("<IH", 0x223E9F78, 1)

    def add(attribute: int, kind: int, value: bytes) -> None:
        nonlocal out
        out += struct.pack("<BHHI", 2, attribute, kind, len(value)) + value + struct.pack("<H", sum(value) & 0xFFFF)

    if text:
        content = text.encode("utf-16-le") + b"\0\0"
        padded = content + b"\0" * (-len(content) % 4)
        add(0x9003, 6, struct.pack("<IHHII", 1, 0x001F, 0x1000, 1, len(content)) + padded)
    for name, data in files:
        add(0x9002, 6, bytes(14))
        add(0x8010, 1, b"ATT0001\0")
        add(0x800F, 6, data)
        content = name.encode("utf-16-le") + b"\0\0"
        padded = content + b"\0" * (-len(content) % 4)
        add(0x9005, 6, struct.pack("<IHHII", 1, 0x001F, 0x3707, 1, len(content)) + padded)
    return out


def saved_mail(*files: tuple[str, bytes], name: str = "", address: str = "", text: str = "") -> bytes:
    tree: Folder = {
        "__properties_version1.0": bytes(32),
        "__substg1.0_0C1A001F": name.encode("utf-16-le"),
        "__substg1.0_0C1F001F": address.encode("utf-16-le"),
        "__substg1.0_1000001F": text.encode("utf-16-le"),
    }
    for k, (given, data) in enumerate(files):
        tree[f"__attach_version1.0_#{k:08X}"] = {
            "__substg1.0_3707001F": given.encode("utf-16-le"),
            "__substg1.0_37010102": data,
        }
    return compound(tree)


def compound(tree: Folder) -> bytes:
    """A compound file (MS-CFB, version 3) of at most 109 sectors of its table."""
    entries: list[list] = [["Root Entry", 5, None, -1, -1, -1]]  # name, kind, content, left, right, child

    def place(folder: Folder, parent: int) -> None:
        before = -1
        for name in folder:
            content = folder[name]
            index = len(entries)
            entries.append([name, 1 if isinstance(content, dict) else 2, content, -1, -1, -1])
            if before < 0:
                entries[parent][5] = index
            else:
                entries[before][4] = index  # a list to the right: no balanced tree, but a tree
            before = index
            if isinstance(content, dict):
                place(content, index)

    place(tree, 0)
    sectors: list[bytes] = []
    chain: list[int] = []

    def store(data: bytes) -> int:
        start = len(sectors)
        pieces = [data[k : k + 512].ljust(512, b"\0") for k in range(0, len(data), 512)]
        sectors.extend(pieces)
        chain.extend([*range(start + 1, start + len(pieces)), _END] if pieces else [])
        return start if pieces else _END

    small, mini = b"", []
    starts = []
    for _, kind, content, *_rest in entries:
        if kind != 2 or not content:
            starts.append(_END if kind == 2 else 0)
        elif len(content) < 4096:
            first, count = len(small) // 64, -(-len(content) // 64)
            small += content.ljust(count * 64, b"\0")
            mini += [*range(first + 1, first + count), _END]
            starts.append(first)
        else:
            starts.append(store(content))
    root_start = store(small)
    mini_start = store(b"".join(struct.pack("<I", k) for k in mini).ljust(-(-len(mini) * 4 // 512) * 512, b"\xff"))
    listing = b""
    for (name, kind, content, left, right, child), start in zip(entries, starts, strict=True):
        size = len(content) if kind == 2 else len(small) if kind == 5 else 0
        letters = name.encode("utf-16-le") + b"\0\0"
        links = struct.pack("<iii", left, right, child)
        listing += letters.ljust(64, b"\0") + struct.pack("<HBB", len(letters), kind, 1) + links + bytes(36)
        listing += struct.pack("<IQ", root_start if kind == 5 else start, size)
    listing_start = store(listing.ljust(-(-len(listing) // 512) * 512, b"\0"))
    tables = 1
    while tables * 128 < len(sectors) + tables:
        tables += 1
    fat = [*chain, *([_FAT] * tables)]
    first = len(sectors)
    fat += [_FREE] * (tables * 128 - len(fat))
    head = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(16) + struct.pack("<HHHHH6x", 0x3E, 3, 0xFFFE, 9, 6)
    head += struct.pack("<IIIIIIIII", 0, tables, listing_start, 0, 4096, mini_start, -(-len(mini) // 128), _END, 0)
    head += b"".join(struct.pack("<I", first + k if k < tables else _FREE) for k in range(109))
    return head + b"".join(sectors) + b"".join(struct.pack("<I", k) for k in fat)
