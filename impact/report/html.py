"""Rendering: context and template to HTML, and on to PDF."""

from __future__ import annotations

import base64
import marshal
import re
from collections.abc import Callable, Mapping
from functools import cache, lru_cache, partial
from inspect import ismodule
from pathlib import Path
from string import printable
from traceback import extract_tb
from typing import Any

from impact.base.language import catalogue_of, message, translate, translate_count
from impact.base.pictures import Picture
from impact.base.places import templates_folder
from impact.base.processes import Results, here
from impact.report.context import Paged
from impact.report.drawing import fitting
from impact.report.faces import face_rule, font_faces
from impact.report.kinds import LANGUAGES
from impact.report.layout.pdf import RenderError
from impact.report.screen import fitted
from impact.report.typefaces import isolated, lacking, rules, spelled, subset
from impact.report.vector import image, inline
from impact.report.words import typed

SHORT = 16
"""Most letters, as printed, of a name that a table keeps on one line."""

RUNNING = 4.0
"""Room for the running title at the foot of a page, on one line beside the page number. [in]"""

_WITHIN = re.compile(r"data:[^\"']*")


def alone(page: str) -> str:
    """Return a page without font rules as one that needs no other file and serves every screen, see `screen.fitted`.

    Parameters
    ----------
    page : str
        HTML with a style element in its head.
    """
    return _with_typeface(fitted(page))


USUAL = printable + "\u00a0«°±³º»¿ÄÖÜßáäéíñóöúüΣρ–’“”„…₂₄←→−×·"
"""Letters and marks of the messages in all languages, and a few more."""

_content = cache(Path.read_bytes)


def _with_typeface(page: str) -> str:
    """Return a page that holds the glyphs of its own characters, which takes a twentieth of whole font files.

    The usual ones are there in any case, so that most pages share one subset.
    """
    characters = "".join(sorted({*_WITHIN.sub("", page), *USUAL}))
    own = [
        face_rule(
            weight, style, f"data:font/woff2;base64,{base64.b64encode(subset(_content(path), characters)).decode()}"
        )
        for weight, style, path in font_faces()
    ]
    return page.replace("<style>", "<style>" + "\n".join(own), 1).replace("</style>", rules(characters) + "</style>", 1)


OWN = "the template"
"""Name of a template of the workshop's own, as messages have it."""


FAULTS = (ArithmeticError, LookupError, TypeError, ValueError, AttributeError, RecursionError)
"""What an expression of a template can raise, beside the errors of the template library."""


CALLED = (
    "builtins", "datetime", "functools", "jinja2", "markupsafe", "impact.base", "impact.account", "impact.findings",
    "impact.decisions", "impact.records", "impact.report", "impact.study",
)  # fmt: skip
"""Where what a template may call is from; whole names or starts of names."""


def _is_for_templates(called: Any) -> bool:
    """Return whether a template may call this: a part of the template language, a plain value's method, or ours for printing."""
    while isinstance(called, partial):
        called = called.func
    owner = getattr(called, "__self__", None)
    held = called if owner is None or ismodule(owner) else owner
    home = str(getattr(held, "__module__", None) or type(held).__module__)
    return any(home == name or home.startswith(f"{name}.") for name in CALLED)


@lru_cache(maxsize=2 * (len(LANGUAGES) + 1))
def _environment(own: str | None, language: str, inlined: bool) -> Any:
    """Return what reads templates, with those that it has read: to read them takes a third of the time of a page."""
    return environment(language, partial(picture, inlined=inlined), own=own)


def environment(language: str, drawn: Callable[..., str], *, own: str | None = None) -> Any:
    """Return what reads the templates of reports.

    Parameters
    ----------
    language : str
        Catalogue of their words.
    drawn : callable
        Makes an element of a drawing or a picture; arguments as `picture` takes them.
    own : str, optional
        Text of a template of the workshop's own.
    """
    from jinja2 import ChoiceLoader, DictLoader, FileSystemLoader, StrictUndefined, select_autoescape
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    class Sandbox(ImmutableSandboxedEnvironment):
        """Lets templates read; one of the workshop's own calls nothing but what is there for it: no array, table or file."""

        def is_safe_callable(self, obj: Any) -> bool:
            return super().is_safe_callable(obj) and (own is None or _is_for_templates(obj))

    made = Sandbox(
        extensions=["jinja2.ext.i18n"],
        loader=ChoiceLoader([DictLoader({} if own is None else {OWN: own}), FileSystemLoader(str(templates_folder()))]),
        autoescape=select_autoescape(default_for_string=True, default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        bytecode_cache=_compiled(),
    )
    made.filters["typed"] = typed
    made.filters["short"] = lambda name: len(spelled(f"<i>{name}</i>")) <= SHORT + len("<i></i>")
    made.filters["running"] = lambda title: fitting([title], RUNNING, 8.0)[0]
    gettext: Any = made  # the methods of the extension are not known to the type checker
    gettext.install_gettext_callables(partial(translate, language), partial(translate_count, language), newstyle=True)
    made.filters["picture"] = drawn
    return made


@cache
def _compiled() -> Any:
    """Return what keeps the code of templates for every language: to compile them takes longer than to fill them."""
    from jinja2 import BytecodeCache

    class Kept(BytecodeCache):
        """Code by the name of a template and a sum of its text."""

        def __init__(self) -> None:
            self.codes: dict[tuple[str, str], Any] = {}

        def load_bytecode(self, bucket: Any) -> None:
            bucket.code = self.codes.get((bucket.key, bucket.checksum))

        def dump_bytecode(self, bucket: Any) -> None:
            if len(self.codes) >= MOST_TEMPLATES:  # each new text of a template of the workshop's own is one more
                self.codes.clear()
            self.codes[bucket.key, bucket.checksum] = bucket.code

    return Kept()


MOST_TEMPLATES = 200
"""Templates whose code is kept."""


def read_template(name: str) -> None:
    """Read a template of ours, so that its code is known; see `codes`."""
    _environment(None, "en", False).get_template(name)


def codes() -> bytes:
    """Return the code of the templates that were read here, for another process to `take_codes` of them."""
    return marshal.dumps(_compiled().codes)


def take_codes(found: bytes) -> None:
    """Take the code of templates that another process of this program has read."""
    _compiled().codes.update(marshal.loads(found))


def picture(shown: str | Picture, said: str = "", narrow: Callable[[], str] | None = None, *, inlined: bool) -> str:
    """Return a drawing in SVG as an element, or a picture of the workshop's own as a place that needs no other file.

    What draws it again for a phone is asked only for a page that a phone can show.
    """
    from markupsafe import Markup

    if isinstance(shown, str):
        return Markup(inline(shown, said, narrow() if narrow else "") if inlined else image(spelled(shown), said))
    return f"data:{shown.media};base64,{base64.b64encode(shown.bytes).decode()}"


def page(
    report: Paged, sums: Mapping[str, str], *, inline_fonts: bool, drawn: Callable[[], Results] | None = None
) -> str:
    """Return a report as one HTML page.

    Parameters
    ----------
    report : Report
        A composed report.
    sums : mapping of str to str
        Checksums of the files that the report carries; empty when it carries none.
    inline_fonts : bool
        Whether the page holds its typeface and can stand alone, or names its files for the layout library.
    drawn : callable, optional
        Returns the charts of the report, by name; they are drawn here where it is left out.

    Raises
    ------
    RenderError
        When a template of the workshop's own cannot be used.
    """
    from markupsafe import Markup

    language = catalogue_of(report.request.language, report.country)
    environment = _environment(report.request.template, language, inline_fonts)
    sheets = ("report.css", *(("screen.css",) if inline_fonts else ()))
    style = "\n".join((templates_folder() / sheet).read_text(encoding="utf-8") for sheet in sheets)
    files = [face_rule(weight, shape, path.as_uri()) for weight, shape, path in font_faces()]
    fonts = Markup("" if inline_fonts else "\n".join(files))
    data = report.context(sums)
    data |= {"style": Markup(style), "fonts": fonts, **(drawn or here(report.charts()))()}
    if report.request.template is None:
        text: str = environment.get_template(report.template).render(**data)
    else:
        text = _by_own(environment, data)
    text = settled(text)
    return alone(text) if inline_fonts else breaking_well(_with_brackets_told(text, language))


IN_BRACKETS = message(
    "Letters and signs in brackets stand by their number or name: no font of the machine that made this file holds them."
)


def _with_brackets_told(text: str, language: str) -> str:
    """Return a page whose head says what letters in brackets are, where it will have some; see `typefaces.spelled`."""
    if not lacking(text):
        return text
    return text.replace("</header>", f'<p class="note">{translate(language, IN_BRACKETS)}</p>\n</header>', 1)


def _by_own(environment: Any, data: Mapping[str, Any]) -> str:
    """Return the page by a template of the workshop's own; whatever goes wrong in it is one line with its place."""
    from jinja2 import TemplateError, TemplateSyntaxError

    try:
        text: str = environment.get_template(OWN).render(**data)
    except TemplateSyntaxError as error:
        raise RenderError(f"{OWN}, line {error.lineno}: {error.message}") from None
    except (TemplateError, *FAULTS) as error:
        places = [frame.lineno for frame in extract_tb(error.__traceback__) if frame.filename == "<template>"]
        place = f", line {places[0]}" if places else ""
        reason = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise RenderError(f"{OWN}{place}: {reason}") from None
    return text


_AMOUNT = re.compile(
    r" (?:(?<=\d )|(?<=\d\) )|(?<=\d</span> )|(?<=\d\)</span> )|(?<=\d</span>\)</span> ))"
    r"(?=(?:%|(?:[km]?g|lb|oz|k?Wh|h|m?L|mm|cm|km|N|Pa|°C)(?![\w'’-]))[^<>]*<)"
)
_EMISSION = re.compile(r" (?=CO₂e[^<>]*<)(?:(?<=\bg )|(?<=\bkg ))")
"""Both begin with the blank itself, which is quick to look for."""


def settled(html: str) -> str:
    """Return a page, or a part of one, in whose text nothing is parted or turned that belongs together."""
    return isolated(unparted(html))


def unparted(html: str) -> str:
    """Return a page in whose text no line end parts a number from a per cent sign or a unit, or a unit in two."""
    return _EMISSION.sub("\u00a0", _AMOUNT.sub("\u00a0", html))


def breaking_well(html: str) -> str:
    """Return a page in which the last word before an inline element is an element of its own.

    WeasyPrint 70 ends a line after its first word where a text fits but for the blank at its end and an element follows.
    """
    return re.sub(r"(?<=[\s>])([^\s<>]{1,60} )(?=<span (?:id|class)=)", r"<span>\1</span>", html)
