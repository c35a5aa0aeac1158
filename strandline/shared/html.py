"""HTML pages from Jinja2 templates, in which every value is escaped."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from strandline.shared.messages import printable

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup


def environment(package: str, filters: Mapping[str, Callable[..., Any]]) -> Environment:
    """Open the templates of a package.

    Parameters
    ----------
    package : str
        Its folder ``templates`` holds the .html, .css and .js files.
    filters : mapping from str to function
        Beside Jinja's own.

    Returns
    -------
    Environment
        Text is made printable and escaped wherever a template puts it out, in attributes too; a name that is not
        defined raises.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    found = Environment(
        loader=PackageLoader(package),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_printable,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    found.filters.update(filters)
    return found


def data_uri(content: bytes, media_type: str) -> Markup:
    """Put a picture into an address of its own (RFC 2397).

    Parameters
    ----------
    content : bytes
    media_type : str
        Such as "image/webp".

    Returns
    -------
    Markup
        There is nothing to escape in base64, and looking for it takes longer than the rest of a page.
    """
    import base64

    from markupsafe import Markup

    return Markup(f"data:{media_type};base64,{base64.b64encode(content).decode('ascii')}")


def _printable(value: Any) -> Any:
    """Text as a page shows it; what a template made itself is left as it is."""
    return printable(value) if type(value) is str else value
