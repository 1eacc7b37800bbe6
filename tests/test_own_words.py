"""What a workshop shows of itself: words, contact, sign and photograph, as read, as carried and as shown.

Pictures are made here with a library, some broken by hand; nothing in them is of a real workshop.
"""

from __future__ import annotations

import base64
import io
import json
import re
import struct
import subprocess
import sys
import zlib
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from html import unescape
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pikepdf
import pytest
from click.testing import CliRunner
from PIL import Image, ImageCms, ImageFile, PngImagePlugin

from impact.api import load
from impact.base import pictures
from impact.base.pictures import PictureError, is_plain_name, plain_form
from impact.base.problems import Problem
from impact.cli.commands import main
from impact.records.demonstration import DEMO
from impact.records.new import FOLDER as STARTER
from impact.records.workshop import SIZES, Workshop
from impact.records.workshop_file import read_workshop
from impact.records.workshop_keys import keys_of
from impact.report.layout.pdf import pdf_of
from impact.report.production import Product, prepare
from impact.report.proof.carried import Carried, read_report
from impact.report.request import Request
from impact.report.verification import verify
from tests.folders import CLOSED, NAMES, TOML, read_valid, swap, write_folder
from tests.reports import FEW, plain_html_of, refused, web_page
from tests.sheets import count
from tests.test_school import HEADER, ROW, USED

PNG_HEAD = b"\x89PNG\r\n\x1a\n"
CLOUD = (90, 140, 200)


def file_of(image: Image.Image, form: str = "PNG", **options: Any) -> bytes:
    stream = io.BytesIO()
    image.save(stream, form, **options)
    return stream.getvalue()


def flat(mode: str = "RGB", size: tuple[int, int] = (60, 40), colour: Any = CLOUD) -> Image.Image:
    return Image.new(mode, size, colour)


def hills(size: tuple[int, int] = (300, 200)) -> Image.Image:
    """Return a picture whose left is dark and whose right is light, its lower half red."""
    left = Image.linear_gradient("L").rotate(90).resize(size)
    red = Image.new("L", size)
    red.paste(255, (0, size[1] // 2, *size))
    return Image.merge("RGB", (red, left, left))


def opened(content: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(content))
    image.load()
    return image


def chunk(kind: bytes, content: bytes) -> bytes:
    """Return a chunk of a PNG (ISO/IEC 15948, 5.3)."""
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


def png(width: int, height: int, depth: int, colour: int, rows: bytes, *others: bytes) -> bytes:
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0))
    return PNG_HEAD + head + b"".join(others) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


def with_pictures(folder: Path, lines: str = "", *, batches: str = CLOSED, **files: bytes) -> Path:
    """Return a valid folder whose settings say what it shows; files by their names before the dot."""
    write_folder(folder, workshop=f"{TOML}\n[report]\n{lines}\n" if lines else TOML, batches=batches)
    for name, content in files.items():
        (folder / f"{name}.{'jpg' if content.startswith(bytes([255, 216])) else 'png'}").write_bytes(content)
    return folder


SIGN = 'logo = "logo.png"\nlogo_text = "A sheet above a tray"\n'
BENCH = 'photo = "bench.jpg"\nphoto_text = "Five people at a bench"\n'


def problems_of(folder: Path) -> list[Problem]:
    return read_workshop(folder, NAMES)[1]


# -- the plain form -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("form", ["PNG", "JPEG"])
@pytest.mark.parametrize("mode", ["L", "RGB"])
@pytest.mark.parametrize("size", [(1, 1), (60, 40), (1601, 3), (2000, 1000)])
def test_plain_form_of_a_plain_one_is_the_same_bytes(form: str, mode: str, size: tuple[int, int]) -> None:
    first, shown = plain_form(file_of(hills(size).convert(mode), form), most=1600)
    assert max(shown) == min(max(size), 1600)
    assert opened(first).size == shown
    assert plain_form(first, most=1600) == (first, shown)


def test_plain_form_of_a_plain_file_of_another_writer_is_taken_as_it_is() -> None:
    """A file in form stays, however it was packed: another version of the library changes no report made again."""
    rows = b"\0\x10\x20\x30" * 1
    by_hand = png(1, 1, 8, 2, rows)
    assert plain_form(by_hand, most=600) == (by_hand, (1, 1))
    best = file_of(hills(), "JPEG", quality=97, subsampling="4:4:4")
    assert plain_form(best, most=600) == (best, (300, 200))
    assert plain_form(best, most=100)[0] != best


EXIF = Image.Exif()
EXIF[0x010F] = "Camera of nobody"
EXIF.get_ifd(0x8825)[1], EXIF.get_ifd(0x8825)[2] = "N", (12.0, 34.0, 56.0)
SECRETS = PngImagePlugin.PngInfo()
SECRETS.add_text("Comment", "Camera of nobody")
SECRETS.add_itxt("XML:com.adobe.xmp", "Camera of nobody")


@pytest.mark.parametrize(
    "content",
    [
        file_of(hills(), "JPEG", exif=EXIF),
        file_of(hills(), "JPEG", comment=b"Camera of nobody"),
        file_of(hills(), "JPEG", xmp=b"Camera of nobody"),
        file_of(hills(), "JPEG") + b"Camera of nobody",
        file_of(hills(), "PNG", exif=EXIF),
        file_of(hills(), "PNG", pnginfo=SECRETS),
        file_of(hills(), "PNG") + b"Camera of nobody",
    ],
    ids=["exif", "comment", "xmp", "behind", "png exif", "png text", "png behind"],
)
def test_plain_form_holds_pixels_alone(content: bytes) -> None:
    assert b"Camera of nobody" in content
    found, size = plain_form(content, most=1600)
    assert size == (300, 200)
    assert b"Camera of nobody" not in found
    assert set(opened(found).info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    assert dict(opened(found).getexif()) == {}


def test_plain_form_place_of_a_photograph_is_gone() -> None:
    content = file_of(hills(), "JPEG", exif=EXIF)
    assert opened(content).getexif().get_ifd(0x8825)
    found = opened(plain_form(content, most=1600)[0])
    assert not found.getexif().get_ifd(0x8825)


# Exif 2.3 (CIPA DC-008), 4.6.4: 1 to 8 are the eight ways to turn and mirror; 6 is a quarter turn to the right.
@pytest.mark.parametrize(("turned", "size"), [(1, (300, 200)), (3, (300, 200)), (6, (200, 300)), (8, (200, 300))])
@pytest.mark.parametrize("form", ["PNG", "JPEG"])
def test_plain_form_stands_as_the_camera_was_held(turned: int, size: tuple[int, int], form: str) -> None:
    upright = hills()
    back = {1: 0, 3: 180, 6: 90, 8: 270}[turned]  # as the sensor saw it, turned against the clock
    exif = Image.Exif()
    exif[0x0112] = turned
    content = file_of(upright.rotate(back, expand=True) if back else upright, form, exif=exif)
    found, shown = plain_form(content, most=1600)
    assert shown == (300, 200)
    assert opened(content).size == size
    pixel = opened(found).convert("RGB").getpixel((290, 190))
    assert isinstance(pixel, tuple)
    assert all(abs(one - two) < 12 for one, two in zip(pixel, upright.getpixel((290, 190)), strict=True))  # type: ignore[arg-type]


def test_plain_form_exif_that_cannot_be_read_leaves_the_picture() -> None:
    content = file_of(hills(), "JPEG", exif=b"Exif\0\0MM\0*\xff\xff\xff\xff garbage")
    assert plain_form(content, most=1600)[1] == (300, 200)


CLEAR = Image.new("RGBA", (40, 40), (200, 0, 0, 0))
CLEAR.paste((0, 0, 200, 255), (20, 0, 40, 40))
KEYED = Image.new("P", (40, 40))
KEYED.putpalette([200, 0, 0, 0, 0, 200])
KEYED.paste(1, (20, 0, 40, 40))


@pytest.mark.parametrize(
    "content",
    [
        file_of(CLEAR),
        file_of(KEYED, transparency=0),
        file_of(KEYED.convert("RGB"), transparency=(200, 0, 0)),
        file_of(CLEAR.resize((80, 80), Image.Resampling.NEAREST)),
    ],
    ids=["alpha", "palette", "one colour", "made smaller"],
)
def test_plain_form_what_is_transparent_is_white(content: bytes) -> None:
    found = opened(plain_form(content, most=40)[0])
    assert (found.mode, found.size) == ("RGB", (40, 40))
    assert (found.getpixel((5, 20)), found.getpixel((35, 20))) == ((255, 255, 255), (0, 0, 200))


@pytest.mark.parametrize(("mode", "kept"), [("1", "L"), ("L", "L"), ("LA", "RGB"), ("P", "RGB"), ("RGB", "RGB")])
def test_plain_form_is_grey_or_colour_of_8_bits(mode: str, kept: str) -> None:
    found, _ = plain_form(file_of(hills().convert(mode)), most=600)
    assert opened(found).mode == kept
    assert found[24:26] == bytes([8, {"L": 0, "RGB": 2}[kept]])  # depth and kind of colour, ISO/IEC 15948, 11.2.2


def test_plain_form_colours_of_a_profile_are_those_of_srgb() -> None:
    """A profile of sRGB moves no colour; one whose first colour is the third of sRGB moves it by that."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    turned = profile.replace(b"rXYZ", b"qXYZ").replace(b"bXYZ", b"rXYZ").replace(b"qXYZ", b"bXYZ")
    for own, seen in ((profile, (100, 150, 200)), (turned, (200, 150, 100))):
        found = opened(plain_form(file_of(flat(colour=(100, 150, 200)), icc_profile=own), most=600)[0])
        assert "icc_profile" not in found.info
        pixel = found.getpixel((5, 5))
        assert isinstance(pixel, tuple)
        assert all(abs(one - two) <= 1 for one, two in zip(pixel, seen, strict=True))


@pytest.mark.parametrize("profile", [b"no profile", b"\0" * 200])
def test_plain_form_profile_that_cannot_be_read_counts_as_srgb(profile: bytes) -> None:
    found = opened(plain_form(file_of(flat(), icc_profile=profile), most=600)[0])
    assert (found.getpixel((5, 5)), "icc_profile" in found.info) == (CLOUD, False)


def test_plain_form_progressive_and_interlaced_are_stored_in_one_pass() -> None:
    passes = file_of(hills(), "JPEG", progressive=True)
    assert b"\xff\xc2" in passes
    assert b"\xff\xc2" not in plain_form(passes, most=1600)[0]
    # ISO/IEC 15948, 11.2.2 and 8.2: interlace 1; of one pixel the first pass holds all
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 2, 0, 0, 1))
    woven = PNG_HEAD + head + chunk(b"IDAT", zlib.compress(b"\0\1\2\3")) + chunk(b"IEND", b"")
    found, _ = plain_form(woven, most=600)
    assert (opened(found).getpixel((0, 0)), found[28]) == ((1, 2, 3), 0)


def test_plain_form_first_picture_of_a_telephone_with_two_is_taken() -> None:
    content = file_of(hills(), "MPO", save_all=True, append_images=[flat()])
    found, size = plain_form(content, most=1600)
    assert (size, opened(found).format, b"MPF" in found) == ((300, 200), "JPEG", False)


# -- hostile pictures -----------------------------------------------------------------------------------------------

LOSSY = file_of(hills(), "JPEG")
WHOLE = file_of(hills())
HUGE = (20_001, 2_000)


@cache
def bomb() -> bytes:
    """Return zeros that unpack to 200 MB."""
    return zlib.compress(bytes(200_000_000), 9)


def hostile(name: str) -> bytes:
    """Return the content of one of `HOSTILE`, made when it is asked for."""
    content = HOSTILE[name][0]
    return content if isinstance(content, bytes) else content()


HOSTILE: dict[str, tuple[bytes | Callable[[], bytes], str]] = {
    "empty": (b"", "the file is empty"),
    "text": (b"this is my logo, promise\n", "its content is text, not PNG or JPEG"),
    "text with letters cut": ("ü".encode() * 3000, "its content is text"),
    "svg": (b'<?xml version="1.0"?>\n<!-- x -->\n<svg onload="x()"/>', "its content is an SVG drawing"),
    "svg alone": (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "its content is an SVG drawing"),
    "gif": (lambda: file_of(flat(), "GIF"), "its content is a GIF"),
    "webp": (lambda: file_of(flat(), "WEBP"), "its content is a WebP"),
    "tiff": (lambda: file_of(flat(), "TIFF"), "its content is a TIFF"),
    "bmp": (lambda: file_of(flat(), "BMP"), "its content is a BMP"),
    "pdf": (b"%PDF-1.7\n", "its content is a PDF"),
    "heic": (b"\0\0\0\x18ftypheic\0\0\0\0", "its content is a HEIC"),
    "eps": (b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n", "its content is text"),
    "zeros": (bytes(5000), "its content is of another kind"),
    "page of the web": (b"<html><img src='http://example.org/a.png'></html>", "its content is text"),
    "head alone": (PNG_HEAD, "its content is a picture that is damaged at its head"),
    "jpeg head alone": (b"\xff\xd8\xff", "its content is a picture that is damaged at its head"),
    "cut png": (WHOLE[:-200], "it is damaged"),
    "cut jpeg": (LOSSY[: len(LOSSY) // 2], "it is damaged"),
    "a wrong sum": (WHOLE.replace(b"IDAT", b"IDAT\xff", 1), "it is damaged"),
    "no pixels": (PNG_HEAD + chunk(b"IHDR", struct.pack(">IIBBBBB", 9, 9, 8, 2, 0, 0, 0)) + chunk(b"IEND", b""), "it is damaged"),
    "no width": (png(0, 9, 8, 2, b""), "damaged"),
    "animated": (lambda: file_of(flat(), save_all=True, append_images=[hills((60, 40))]), "it is animated"),
    "cmyk": (file_of(flat("CMYK", colour=(1, 2, 3, 4)), "JPEG"), "(CMYK)"),
    "16 bits of grey": (png(2, 1, 16, 0, b"\0\1\2\3\4"), "it has 16 bits to a colour"),
    "16 bits of colour": (png(1, 1, 16, 2, b"\0\1\2\3\4\5\6"), "it has 16 bits to a colour"),
    "too many pixels": (lambda: png(*HUGE, 8, 0, bytes((HUGE[0] + 1) * HUGE[1])), "it has 20,001 × 2,000 pixels"),
    "a bomb": (png(60_000, 60_000, 8, 2, b"\0"), "it has "),
    "beyond all": (png(2**31 - 1, 2**31 - 1, 8, 2, b"\0"), "it has "),
    "a bomb in words": (
        lambda: png(1, 1, 8, 2, b"\0\1\2\3", chunk(b"zTXt", b"a\0\0" + bomb())),
        "it is damaged",
    ),
    "a bomb in a profile": (
        lambda: png(1, 1, 8, 2, b"\0\1\2\3", chunk(b"iCCP", b"a\0\0" + bomb())),
        "it is damaged",
    ),
    "thousands of passes": (LOSSY[:-2] + b"\xff\xda\0\x08\1\1\0\0\x3f\0" * 5000 + b"\xff\xd9", "more than 100 passes"),
}  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
@pytest.mark.parametrize("lenient", [False, True], ids=["", "after a layout"])
def test_plain_form_hostile_content_is_one_plain_reason(
    name: str, lenient: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The layout library lets cut pictures pass once it is imported; reading does not depend on it, and leaves it so."""
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", lenient)
    content, reason = hostile(name), HOSTILE[name][1]
    with pytest.raises(PictureError) as caught:
        plain_form(content, most=600)
    assert reason in caught.value.reason
    assert caught.value.reason.isprintable()
    assert "picture" in caught.value.accepted
    assert lenient is ImageFile.LOAD_TRUNCATED_IMAGES


def test_plain_form_too_many_pixels_are_refused_before_they_are_unpacked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ImageFile.ImageFile, "load", lambda _: pytest.fail("it was unpacked"))
    with pytest.raises(PictureError, match="20,001"):
        plain_form(hostile("too many pixels"), most=600)


def test_plain_form_every_byte_changed_raises_nothing_else() -> None:
    for whole in (file_of(hills((9, 7))), file_of(hills((9, 7)), "JPEG", quality=30)):
        for place in range(len(whole)):
            changed = whole[:place] + bytes([whole[place] ^ 0xFF]) + whole[place + 1 :]
            try:
                found, _ = plain_form(changed, most=600)
            except PictureError:
                continue
            assert plain_form(found, most=600)[0] == found


# -- the settings ---------------------------------------------------------------------------------------------------


def test_read_workshop_what_it_shows_is_read(tmp_path: Path) -> None:
    lines = f'words = """We are\n  neighbors."""\ncontact = "Ana, ana@bench.example"\n{SIGN}{BENCH}'
    folder = with_pictures(tmp_path, lines, logo=file_of(flat()), bench=file_of(hills((2400, 1200)), "JPEG"))
    found = read_valid(folder).presentation
    assert (found.words, found.contact) == ("We are neighbors.", "Ana, ana@bench.example")
    assert found.logo is not None
    assert found.photo is not None
    logo, photo = found.logo, found.photo
    assert (logo.name, logo.media, logo.width, logo.height, logo.alt) == (
        "logo.png", "image/png", 60, 40, "A sheet above a tray",
    )  # fmt: skip
    assert (photo.name, photo.media, photo.width, photo.height) == ("bench.jpg", "image/jpeg", 1600, 800)
    assert opened(photo.bytes).size == (1600, 800)
    assert found.pictures == (logo, photo)


def test_read_workshop_without_the_table_shows_nothing(tmp_path: Path) -> None:
    found = read_valid(write_folder(tmp_path)).presentation
    assert (found.words, found.contact, found.logo, found.photo, found.pictures) == (None, None, None, None, ())


def test_read_workshop_kind_of_picture_is_told_by_its_content(tmp_path: Path) -> None:
    folder = with_pictures(tmp_path, SIGN)
    (folder / "logo.png").write_bytes(LOSSY)
    found = read_valid(folder).presentation.logo
    assert found is not None
    assert found.media == "image/jpeg"


@pytest.mark.parametrize(
    ("lines", "key", "code"),
    [
        ('logo = "logo.png"', "report.logo_text", "missing-key"),
        ('logo = "logo.png"\nlogo_text = " "', "report.logo_text", "missing-value"),
        ('logo_text = "x"', "report.logo", "missing-key"),
        ('photo = "no.jpg"\nphoto_text = "x"', "report.photo", "missing-file"),
        ('logo = "../logo.png"\nlogo_text = "x"', "report.logo", "bad-file-name"),
        ('logo = "/etc/logo.png"\nlogo_text = "x"', "report.logo", "bad-file-name"),
        ("logo = 'C:\\logo.png'\nlogo_text = 'x'", "report.logo", "bad-file-name"),
        ('logo = "pictures/logo.png"\nlogo_text = "x"', "report.logo", "bad-file-name"),
        ('logo = "my logo.png"\nlogo_text = "x"', "report.logo", "bad-file-name"),
        ('logo = "parts.csv"\nlogo_text = "x"', "report.logo", "bad-file-name"),
        ('logo = "logo.png\\u0000"\nlogo_text = "x"', "report.logo", "bad-file-name"),
        ('logo = "http://example.org/logo.png"\nlogo_text = "x"', "report.logo", "bad-file-name"),
        ("logo = 3", "report.logo", "wrong-type"),
        ('logo = "logo.png"\nlogo_text = 3', "report.logo_text", "wrong-type"),
        ('logo = "logo.png"\nlogo_text = "x"\nphoto = "LOGO.png"\nphoto_text = "x"', "report.photo", "duplicate-name"),
        ('words = "a\\u0007b"', "report.words", "bad-text"),
        ('words = "a\\u202Eb"', "report.words", "bad-text"),
        (f'words = "{"a" * 601}"', "report.words", "too-long"),
        (f'contact = "{"a" * 201}"', "report.contact", "too-long"),
        ("words = 5", "report.words", "wrong-type"),
        ('word = "a"', "report.word", "unknown-key"),
    ],
)  # fmt: skip
def test_read_workshop_broken_key_is_a_problem_with_its_line(tmp_path: Path, lines: str, key: str, code: str) -> None:
    folder = with_pictures(tmp_path, lines, logo=file_of(flat()))
    (folder / "LOGO.png").write_bytes(file_of(flat()))
    found = [problem for problem in problems_of(folder) if problem.code == code]
    row = TOML.count("\n") + 2
    assert [(one.file, one.column) for one in found] == [("workshop.toml", key)]
    assert row <= (found[0].row or 0) <= row + 4
    assert found[0].accepted
    assert read_workshop(folder, NAMES)[0] is None


def test_is_plain_name_takes_no_folder_and_no_name_of_another_record() -> None:
    assert all(map(is_plain_name, ("logo.png", "IMG_2034.JPG", "a-b.c.jpeg")))
    others = (
        "../a.png",
        "a/b.png",
        "a\\b.png",
        ".png",
        ".a.png",
        "a.svg",
        "SHA256SUMS",
        "settings.toml",
        "ü.png",
        "a.png\n",
        "",
    )
    assert not any(map(is_plain_name, others))


def test_read_workshop_longest_words_are_read_however_they_are_laid(tmp_path: Path) -> None:
    text = "word " * 120
    assert read_valid(with_pictures(tmp_path, f'words = "{text}"')).presentation.words == text.strip()


@pytest.mark.parametrize("place", ["inside", "outside"])
def test_read_workshop_link_is_refused(tmp_path: Path, place: str) -> None:
    folder = with_pictures(tmp_path / "shop", SIGN)
    target = (folder if place == "inside" else tmp_path) / "other.png"
    target.write_bytes(file_of(flat()))
    (folder / "logo.png").symlink_to(target)
    (problem,) = problems_of(folder)
    assert (problem.code, problem.column, problem.read) == ("not-a-file", "report.logo", "logo.png")
    assert "a link" in problem.message


def test_read_workshop_folder_in_place_of_a_picture_is_refused(tmp_path: Path) -> None:
    folder = with_pictures(tmp_path, SIGN)
    (folder / "logo.png").mkdir()
    (problem,) = problems_of(folder)
    assert (problem.code, "a folder" in problem.message) == ("not-a-file", True)


def test_read_workshop_large_file_is_refused_unread(tmp_path: Path) -> None:
    folder = with_pictures(tmp_path, SIGN)
    with (folder / "logo.png").open("wb") as stream:
        stream.truncate(pictures.LARGEST_FILE + 1)
    (problem,) = problems_of(folder)
    assert (problem.code, "10 MB" in problem.message) == ("too-large", True)


def test_command_check_tells_every_fault_at_once(tmp_path: Path) -> None:
    lines = 'logo = "logo.png"\nphoto = "bench.jpg"\nphoto_text = "x"\nwords = 5\n'
    folder = with_pictures(tmp_path, lines, logo=b"no picture")
    (folder / "bench.jpg").write_bytes(b"<svg/>")
    done = CliRunner().invoke(main, ["check", str(folder), "--json"])
    found = json.loads(done.stdout)["problems"]
    assert done.exit_code == 1
    assert {(one["column"], one["code"]) for one in found} == {
        ("report.logo", "no-picture"), ("report.logo_text", "missing-key"), ("report.photo", "no-picture"),
        ("report.words", "wrong-type"),
    }  # fmt: skip
    shown = CliRunner().invoke(main, ["check", str(folder), "--all"]).output
    assert (
        'read "bench.jpg": its content is an SVG drawing, not PNG or JPEG. Accepted: a picture in PNG or JPEG' in shown
    )


def test_totals_do_not_change_with_what_is_shown(tmp_path: Path) -> None:
    def totals(folder: Path) -> Any:
        return json.loads(CliRunner().invoke(main, ["totals", str(folder), "--json", "--draws", "100"]).stdout)

    bare = totals(with_pictures(tmp_path / "one"))
    assert totals(with_pictures(tmp_path / "two", 'words = "a"\n' + SIGN, logo=WHOLE)) == bare


def test_starter_shows_every_key_of_the_table() -> None:
    text = (STARTER / "workshop.toml").read_text(encoding="utf-8").partition("# [report]")[2]
    assert re.findall(r"^# +(\w+) = ", text, flags=re.MULTILINE) == keys_of(Workshop, ("report",))


# -- what a report carries ------------------------------------------------------------------------------------------

OWN = f'words = "We are neighbors."\ncontact = "Ana"\n{SIGN}{BENCH}'


@cache
def made(reader: str = "binder") -> tuple[bytes, Product]:
    """Return the report of a folder with both pictures, and what it was made from."""
    with TemporaryDirectory() as place:
        bench = file_of(hills((2000, 1500)), "JPEG", exif=EXIF)
        folder = with_pictures(Path(place), OWN, logo=file_of(CLEAR), bench=bench)
        product = prepare(folder, Request(reader), FEW)
    return product.content(".pdf"), product


@cache
def carried() -> Carried:
    return read_report(made()[0])


def test_report_carries_its_pictures_in_plain_form_under_the_names_of_the_settings() -> None:
    files = carried().files
    assert opened(files["bench.jpg"]).size == (1600, 1200)
    assert opened(files["logo.png"]).mode == "RGB"
    assert b"Camera of nobody" not in files["bench.jpg"] + made()[0]
    assert b'logo = "logo.png"' in files["workshop.toml"]
    with pikepdf.open(io.BytesIO(made()[0])) as pdf:
        kinds = {name: spec.get_file().mime_type for name, spec in pdf.attachments.items()}
        assert (kinds["logo.png"], kinds["bench.jpg"]) == ("image/png", "image/jpeg")


def test_report_made_again_from_what_it_carries_is_the_same_file(tmp_path: Path) -> None:
    for name, content in carried().files.items():
        (tmp_path / name).write_bytes(content)
    again = prepare(tmp_path, Request("binder"), FEW)
    assert again.files() == dict(carried().files)
    assert again.content(".pdf") == made()[0]


def test_verify_report_with_pictures_agrees() -> None:
    found = verify(made()[0])
    assert found.disagreements == ()
    assert found.files[0] == found.files[1] == len(carried().files)


def blamed(monkeypatch: pytest.MonkeyPatch, **changes: bytes | None) -> dict[str, str]:
    """Return what disagrees in the files of a report, of which some are others, by name."""
    given = {**carried().files, **{name.replace("_", "."): content for name, content in changes.items()}}
    files = {name: content for name, content in given.items() if content is not None}
    altered = replace(carried(), files=files, content=carried().content + b"\n")
    monkeypatch.setattr("impact.report.verification.read_report", lambda _: altered)
    monkeypatch.setattr("impact.report.verification.absence", lambda: "no library that lays out")
    monkeypatch.setattr("impact.report.verification.compare_pages", lambda *_: ((0, 0), []))
    return {one.name: one.carried for one in verify(b"").disagreements if one.where == "file"}


def test_verify_stays_strict_about_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    assert blamed(monkeypatch) == {}
    assert blamed(monkeypatch, other_png=WHOLE) == {"other.png": "a file"}
    assert blamed(monkeypatch, other_svg=b"<svg/>") == {"other.svg": "a file"}
    assert blamed(monkeypatch, bench_jpg=file_of(hills(), "JPEG", exif=EXIF)) == {"bench.jpg": "another content"}


@pytest.mark.parametrize("name", ["none", *HOSTILE])
def test_verify_hostile_picture_is_a_disagreement(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    found = blamed(monkeypatch, bench_jpg=hostile(name) if name in HOSTILE else None)
    assert "bench.jpg" in found["workshop.toml"]


def test_verify_settings_that_reach_outside_read_nothing(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "evil.png").write_bytes(WHOLE)
    settings = carried().files["workshop.toml"].replace(b"logo.png", f"{tmp_path}/evil.png".encode())
    found = blamed(monkeypatch, workshop_toml=settings)
    assert "no plain name" in found["workshop.toml"]


# -- what is shown --------------------------------------------------------------------------------------------------


def longest() -> Product:
    """Return the Spanish report for a school at its longest: every caution, the longest name, words and contact."""
    with TemporaryDirectory() as place:
        settings = swap(TOML, 'country = "USA"', 'country = "GBR"\naudience = "school"')
        settings = swap(swap(settings, 'electricity = "US-CAMX"\n', ""), 'dryer = "fan"', 'dryer = "convection-oven"')
        settings = swap(settings, '"Paper Bench"', '"The Long Bench of the Paper Club at the Old Mill by the River"')
        words, contact = ("Neighbours press what is thrown away. " * 16)[:600], ("Ana and Ben at the bench, " * 8)[:200]
        folder = with_pictures(Path(place), logo=WHOLE)
        shown = f'\n[report]\nwords = "{words}"\ncontact = "{contact}"\n{SIGN}'
        (folder / "workshop.toml").write_text(settings + shown, encoding="utf-8")
        rows = "".join(ROW.format(n=n, binder=binder, dryer="1.5 kWh") for n, binder in enumerate(USED, 1))
        (folder / "batches.csv").write_text(f"{HEADER}\n{rows}", encoding="utf-8")
        return prepare(folder, Request("school", "es"), FEW)


def test_school_report_with_the_longest_words_has_three_pages_by_both_standards() -> None:
    pdf = longest().content(".pdf")
    assert count(pdf) == 3
    assert (refused(pdf, "ua1"), refused(pdf, "3a")) == ([], [])


@pytest.mark.parametrize("profile", ["ua1", "3a"])
def test_report_with_a_sign_keeps_both_standards(profile: str) -> None:
    assert refused(made()[0], profile) == []


def with_photo(folder: Path) -> bytes:
    """Return a report that shows the photograph too, by a template of the workshop's own."""
    template = (
        '{% extends "base.html" %}{% from "own.html" import contact, photo, sign, words with context %}'
        "{% block title %}x{% endblock %}{% block description %}x{% endblock %}"
        "{% block head %}<h1>x</h1>{{ sign() }}{{ words() }}{{ contact() }}{% endblock %}"
        "{% block body %}<h2>y</h2><figure>{{ photo() }}</figure><p style='break-before: page'>z</p>{% endblock %}"
    )
    written = with_pictures(folder, OWN, logo=file_of(CLEAR), bench=file_of(hills(), "JPEG"))
    return prepare(written, Request("binder", template=template), FEW).content(".pdf")


def test_pictures_are_figures_with_their_words(tmp_path: Path) -> None:
    pdf = with_photo(tmp_path / "shop")
    assert (refused(pdf, "ua1"), refused(pdf, "3a")) == ([], [])
    with pikepdf.open(io.BytesIO(pdf)) as read:
        found = [one for one in read.objects if isinstance(one, pikepdf.Dictionary) and one.get("/S") == "/Figure"]
        assert {str(one.Alt) for one in found} == {"A sheet above a tray", "Five people at a bench"}
        drawn = [one for one in read.objects if isinstance(one, pikepdf.Stream) and one.get("/Subtype") == "/Image"]
        assert {(str(one.get("/Filter")), bool(one.Interpolate), "/SMask" in one) for one in drawn} == {
            ("/FlateDecode", False, False), ("/DCTDecode", False, False),
        }  # fmt: skip
    (tmp_path / "x.pdf").write_bytes(pdf)
    checker = Path(sys.executable).with_name("outloud")
    done = subprocess.run([checker, "--json", "-", tmp_path / "x.pdf"], capture_output=True, text=True, check=False)
    (result,) = json.loads(done.stdout)["results"]
    assert [one for one in result["findings"] if one["severity"] == "error"] == []


def ending(*marks: int) -> bytes:
    """Return a PNG whose pixels, as the layout library packs them, end with one of some bytes."""
    for tone in range(256):
        content = file_of(flat("L", (3, 3), tone))
        if content[content.rindex(b"IEND") - 9] in marks:
            return content
    raise AssertionError("no such tone")


@pytest.mark.parametrize("mark", [0x0A, 0x0D])
def test_picture_that_ends_like_a_line_keeps_its_stream_clear(mark: int) -> None:
    """ISO 19005-3, 6.1.7.1: a line end before `endstream` that is none would shorten the stream by a byte."""
    tone = ending(mark)
    data = base64.b64encode(tone).decode()
    pdf = pdf_of(
        '<!DOCTYPE html><html lang="en"><head><title>x</title></head>'
        f'<body><h1>x</h1><img alt="x" src="data:image/png;base64,{data}"></body></html>'
    )
    assert not re.search(rb"[\r\n]\nendstream", pdf)
    assert refused(pdf, "3a") == []
    with pikepdf.open(io.BytesIO(pdf)) as read:
        (drawn,) = [one for one in read.objects if isinstance(one, pikepdf.Stream) and one.get("/Subtype") == "/Image"]
        assert len(drawn.Filter) > 1
        assert pikepdf.PdfImage(drawn).as_pil_image().getpixel((1, 1)) == opened(tone).getpixel((1, 1))


PLAIN_TEXTS = (
    "<img src=http://example.org/a.png><script>alert(1)</script>",
    "{{ 7 * 7 }}{% include '/etc/passwd' %}",
    "%(words)s %s 100 %",
    "</bdi></blockquote></style> & &amp; \"'",
    "שלום לכם",
    "ورشة الورق",
)


@pytest.mark.parametrize("text", PLAIN_TEXTS)
@pytest.mark.parametrize("reader", ["school", "binder"])
def test_hostile_words_are_plain_text(tmp_path: Path, text: str, reader: str) -> None:
    written = json.dumps(text, ensure_ascii=False)
    rows = "".join(ROW.format(n=n, binder="pva-glue", dryer="0.5 kWh") for n in range(1, 4))
    lines = f"words = {written}\ncontact = {written}\nlogo = 'logo.png'\nlogo_text = {written}\n"
    folder = with_pictures(tmp_path, lines, batches=f"{HEADER}\n{rows}", logo=WHOLE)
    html = plain_html_of(load(folder).assess(draws=50), Request(reader))
    head = html[html.index("<header>") : html.index("</header>")]
    assert "<script" not in html
    assert set(re.findall(r"<(\w+)", head)) <= {"header", "h1", "p", "div", "span", "bdi", "blockquote", "img"}
    assert unescape(head).replace("\u00a0", " ").count(text) == (3 if reader == "school" else 2)
    assert re.findall(r'\b(?:src|href)="(?!data:image/png;base64,)', head) == []


def test_demo_shows_its_sign_words_and_contact_and_says_that_they_are_invented() -> None:
    sign = (DEMO / "logo.png").read_bytes()
    assert len(sign) < 5000
    assert plain_form(sign, most=SIZES["logo"])[0] == sign
    school, binder = web_page("demo", "school"), web_page("demo", "binder")
    for text in (school, binder):
        assert 'alt="A sheet of paper above a tray"' in text
        assert "(invented)</bdi>" in text
    assert "The workshop, in its own words: “<bdi>We are neighbors" in school


def test_page_that_stands_alone_holds_its_pictures() -> None:
    html = made()[1].content(".html").decode()
    assert re.findall(r'<img class="sign" src="(data:image/png;base64),', html) == ["data:image/png;base64"]
