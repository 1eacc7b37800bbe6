"""Pictures of a workshop's own, read without trust and brought into one plain form.

In: a file of a folder. Out: a `Picture` that holds nothing but its pixels, PNG or JPEG as it came. What a camera writes
beside them, place and time among it, is gone; what is transparent lies on white. A picture that is in this form already
is taken as it is, byte for byte, so that reading one again changes nothing.
"""

from __future__ import annotations

import builtins
import io
import re
import stat
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from impact.base.files import NotRegularError, kind_of, read_regular

if TYPE_CHECKING:
    from PIL.Image import Image

LARGEST_FILE = 10_000_000
"""Most that the file of a picture may hold [bytes]."""

MOST_PIXELS = 40_000_000
"""Most pixels of a picture as it is read: more than cameras of telephones give, and 160 MB once unpacked. [1]"""

MOST_SCANS = 100
"""Most passes in which a JPEG may be stored; usual are 1 to 10, and thousands would take hours to unpack. [1]"""

JPEG_QUALITY = 85
"""Quality of a JPEG that is written, of 100: no loss is seen in print at these sizes (common practice, no source)."""

ACCEPTED = "a picture in PNG or JPEG, of 8 bits to a colour, that an image viewer opens"
PLAIN_NAME = "letters of a to z, digits, -, _ and dots, and .png, .jpg or .jpeg at its end, such as logo.png"

Format = Literal["PNG", "JPEG"]

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,99}\.(?:png|jpe?g)", re.IGNORECASE)
_STARTS: tuple[tuple[str, str], ...] = (
    (r"(?:\xef\xbb\xbf)?\s*(?:<\?xml[^>]*>\s*)?(?:<!--.{0,2000}?-->\s*)*<svg\b", "an SVG drawing"),
    (r"GIF8", "a GIF"),
    (r"RIFF.{4}WEBP", "a WebP"),
    (r".{4}ftyp(?:hei|hev|mif|msf)", "a HEIC, as some telephones write"),
    (r".{4}ftypavi", "an AVIF"),
    (r"II\*\0|MM\0\*", "a TIFF or a raw photograph"),
    (r"BM", "a BMP"),
    (r"%PDF", "a PDF"),
)
"""How contents begin that people take for a picture that could be read, and what each is."""


class PictureError(Exception):
    """Raised for what is no picture that can be used.

    Attributes
    ----------
    code : str
        Code of the problem.
    reason : str
        What is wrong.
    accepted : str
        What would be accepted.
    """

    def __init__(self, code: str, reason: str, accepted: str = ACCEPTED) -> None:
        self.code = code
        self.reason = reason
        self.accepted = accepted
        super().__init__(reason)


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture in plain form.

    Attributes
    ----------
    name : str
        Name of its file, as of `is_plain_name`.
    bytes : bytes
        The file in plain form.
    media : str
        ``image/png`` or ``image/jpeg``, by content.
    width, height : int
        Its pixels. [1]
    alt : str
        What it shows, in words.
    """

    name: str
    bytes: builtins.bytes = field(repr=False)
    media: str
    width: int
    height: int
    alt: str


def is_plain_name(name: str) -> bool:
    """Return whether a file name has no folder, no blank and no letter that a file inside a PDF cannot have."""
    return _NAME.fullmatch(name) is not None


def read_picture(folder: Path, name: str, *, most: int, alt: str) -> Picture:
    """Return a picture that stands in a folder, in plain form.

    Parameters
    ----------
    folder : Path
        The folder.
    name : str
        Plain name of a file in it; a link is refused.
    most : int
        Most pixels of its longer side; a larger one is made smaller. [1]
    alt : str
        What it shows, in words.

    Raises
    ------
    PictureError
        It cannot be used; says why.
    """
    if not is_plain_name(name):
        raise PictureError("bad-file-name", "this is no plain name of a picture in the workshop folder", PLAIN_NAME)
    path = folder / name
    try:
        mode = path.lstat().st_mode
        if not stat.S_ISREG(mode):
            raise PictureError(
                "not-a-file", f"this is {kind_of(mode)}, and no regular file", "a file in the workshop folder"
            )
        content = read_regular(path, limit=LARGEST_FILE)
    except FileNotFoundError:
        raise PictureError("missing-file", "there is no such file in the workshop folder", ACCEPTED) from None
    except NotRegularError as error:
        raise PictureError(error.code, error.reason, f"a picture of at most {LARGEST_FILE / 1e6:g} MB") from None
    except OSError as error:
        raise PictureError("unreadable-file", f"it cannot be read: {error.strerror or error}", ACCEPTED) from None
    plain, size = plain_form(content, most=most)
    return Picture(name, plain, media_of(plain), *size, alt)


def media_of(content: bytes) -> str:
    """Return the media type of a picture in plain form."""
    return "image/png" if content.startswith(b"\x89PNG") else "image/jpeg"


def plain_form(content: bytes, *, most: int) -> tuple[bytes, tuple[int, int]]:
    """Return a picture in plain form, and its width and height. [1]

    Plain is PNG of true colour or grey with nothing but its size and pixels, or JPEG in one pass with nothing but its
    size, tables and pixels; 8 bits, sRGB, upright, on white, `most` pixels on the longer side at most.

    Raises
    ------
    PictureError
        It is no PNG or JPEG, holds more than `MOST_PIXELS`, moves, is CMYK or of 16 bits, or is damaged.
    """
    if not content:
        raise PictureError("empty-file", "the file is empty")
    with _as_picture(content) as image:
        form = _checked(image, content)
        fits = max(image.size) <= most
        if form == "JPEG":
            image.thumbnail((most, most))  # before it is unpacked, which then takes a fraction of the time
        image.load()
        if fits and _is_plain(content, form, image):
            return content, image.size
        found = _in_srgb(_upright(_on_white(image, most)), image.info.get("icc_profile"))
        return _written(found, form), found.size


@contextmanager
def _as_picture(content: bytes) -> Iterator[Any]:
    """Open a picture; whatever the library trips over in it is one reason.

    The layout library lets cut pictures pass, for the whole process; here they never do.
    """
    from PIL import Image, ImageFile, UnidentifiedImageError

    lenient = ImageFile.LOAD_TRUNCATED_IMAGES
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            if content.startswith(b"\xff\xd8") and content.count(b"\xff\xda") > MOST_SCANS:
                raise PictureError("bad-picture", f"it is stored in more than {MOST_SCANS} passes")
            with Image.open(io.BytesIO(content), formats=("PNG", "JPEG")) as image:
                yield image
    except PictureError:
        raise
    except Image.DecompressionBombError:
        raise _too_many() from None
    except UnidentifiedImageError:
        raise PictureError("no-picture", f"its content is {_what_else(content)}, not PNG or JPEG") from None
    except Exception:  # decoders raise whatever they trip over
        raise PictureError("bad-picture", "it is damaged: it ends too soon or cannot be unpacked") from None
    finally:
        ImageFile.LOAD_TRUNCATED_IMAGES = lenient


def _too_many(size: tuple[int, int] | None = None) -> PictureError:
    found = f"{size[0]:,} × {size[1]:,} pixels" if size else "too many pixels"
    return PictureError("too-large", f"it has {found}", f"a picture of at most {MOST_PIXELS / 1e6:g} million pixels")


def _what_else(content: bytes) -> str:
    """Return what a content is that is no picture which can be read, in words."""
    if content.startswith((b"\x89PNG", b"\xff\xd8")):
        return "a picture that is damaged at its head"
    start = content[:4096].decode("latin-1")
    for pattern, what in _STARTS:
        if re.match(pattern, start, re.DOTALL | re.IGNORECASE):
            return what
    try:
        text = content[:4096].decode("utf-8", errors="strict" if len(content) <= 4096 else "ignore")
    except UnicodeDecodeError:
        return "of another kind"
    return "text" if "\0" not in text else "of another kind"


def _checked(image: Any, content: bytes) -> Format:
    """Return the format of a picture that is not yet unpacked; refuse what is not accepted by what its head says."""
    if image.width * image.height > MOST_PIXELS:
        raise _too_many(image.size)
    form: Format = "PNG" if image.format == "PNG" else "JPEG"
    if form == "PNG" and getattr(image, "is_animated", False):
        raise PictureError("bad-picture", "it is animated", "a picture that stands still")
    if image.mode == "CMYK":
        raise PictureError(
            "bad-picture", "its colours are those of a printing press (CMYK)", f"{ACCEPTED}, in RGB or grey"
        )
    if form == "PNG" and content[24] == 16:
        raise PictureError("bad-picture", "it has 16 bits to a colour")
    if image.mode not in ("1", "L", "LA", "P", "PA", "RGB", "RGBA"):
        raise PictureError("bad-picture", f"its colours are of a kind that is not read ({image.mode})")
    return form


def _is_plain(content: bytes, form: Format, image: Any) -> bool:
    """Return whether a picture that was unpacked whole is stored in plain form already."""
    if image.mode not in ("L", "RGB"):
        return False
    return _is_plain_png(content) if form == "PNG" else _is_plain_jpeg(content)


def _is_plain_png(content: bytes) -> bool:
    """Return whether a PNG holds only size, 8-bit grey or colour in one pass, and its end (ISO/IEC 15948, 5.3, 11.2)."""
    kinds, place = [], 8
    while place + 8 <= len(content):
        kinds.append(content[place + 4 : place + 8])
        place += 12 + int.from_bytes(content[place : place + 4], "big")
    depth, colour, interlaced = content[24], content[25], content[28]
    only = kinds[:1] == [b"IHDR"] and kinds[-1:] == [b"IEND"] and set(kinds[1:-1]) == {b"IDAT"}
    return only and place == len(content) and depth == 8 and colour in (0, 2) and not interlaced


_TABLES, _SIZE, _SCAN = {0xDB, 0xC4, 0xDD}, 0xC0, 0xDA


def _is_plain_jpeg(content: bytes) -> bool:
    """Return whether a JPEG holds its mark, tables, size and one pass, and nothing behind (ITU-T T.81, B.1.1, B.2)."""
    if (
        content[2:4] != b"\xff\xe0"
        or content[4:6] != b"\x00\x10"
        or content[6:11] != b"JFIF\0"
        or content[18:20] != b"\0\0"
    ):
        return False
    place, sizes = 20, 0
    while content[place : place + 1] == b"\xff" and place + 4 <= len(content):
        marker = content[place + 1]
        place += 2 + int.from_bytes(content[place + 2 : place + 4], "big")
        sizes += marker == _SIZE
        if marker == _SCAN:
            # in the pixels a byte of ones is followed by 0 or the number of a restart; anything else ends them
            end = re.compile(rb"\xff(?![\x00\xd0-\xd7])").search(content, place)
            return sizes == 1 and end is not None and content[end.start() :] == b"\xff\xd9"
        if marker not in {_SIZE, *_TABLES}:
            return False
    return False


def _upright(image: Image) -> Image:
    """Return a picture turned as its camera says; as it is where that cannot be read."""
    from PIL import ImageOps

    try:
        return ImageOps.exif_transpose(image)
    except Exception:  # what cameras write is often at fault, and the picture is there all the same
        return image


def _on_white(image: Image, most: int) -> Image:
    """Return a picture in colour or grey, `most` pixels long at most, with white where it is transparent."""
    from PIL import Image as images

    clear = image.has_transparency_data
    found = image.convert("RGBA" if clear else "L" if image.mode in ("1", "L") else "RGB")
    found.thumbnail((most, most))
    if not clear:
        return found
    ground = images.new("RGB", found.size, "white")
    ground.paste(found, mask=found.getchannel("A"))
    ground.info.update(found.info)
    return ground


def _in_srgb(image: Image, profile: bytes | None) -> Image:
    """Return a picture in the colours of sRGB, which it counts as where its profile cannot be read."""
    from PIL import ImageCms

    if not profile:
        return image
    try:
        own = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        found = ImageCms.profileToProfile(image, own, ImageCms.createProfile("sRGB"), outputMode="RGB")
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        return image
    return found or image


def _written(image: Image, form: Format) -> bytes:
    """Return a picture as a file that holds its pixels alone."""
    image.info.clear()
    stream = io.BytesIO()
    if form == "PNG":
        image.save(stream, "PNG", compress_level=9)
    else:
        image.save(stream, "JPEG", quality=JPEG_QUALITY, subsampling="4:2:0", progressive=False, optimize=False)
    return stream.getvalue()
