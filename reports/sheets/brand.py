"""A service's brand on a page: from settings to what stands at its head and foot, and the few lines of style it may set."""

from __future__ import annotations

import base64
import dataclasses
from collections.abc import Mapping
from typing import TypeVar

from reports.settings.settings import Logo, PaperSize, Settings
from reports.sheets.content import Brand, PageContent
from reports.words.catalogue import Catalogue

__all__ = ["brand_of", "brand_style", "dressed", "logo_address", "paper_style", "service_line"]

P = TypeVar("P", bound=PageContent)

_MEDIA: Mapping[str, str] = {"svg": "image/svg+xml", "png": "image/png"}


def dressed(content: P, settings: Settings, say: Catalogue) -> P:
    """Return a page of any kind in the service's brand and on its paper; say: the catalogue's part "settings".

    Nothing else of the page changes. An unbranded page takes the paper and nothing of the brand.
    """
    if content.unbranded:
        return dataclasses.replace(content, paper=settings.paper)
    foot = dataclasses.replace(
        content.foot, service=service_line(settings, say), address=settings.pages_at or content.foot.address
    )
    return dataclasses.replace(content, paper=settings.paper, brand=brand_of(settings, say), foot=foot)


def brand_of(settings: Settings, say: Catalogue) -> Brand | None:
    """Return the brand of the settings, None where they name no service; say: the catalogue's part "settings"."""
    if not settings.name:
        return None
    words = say.say("foot/logo", name=settings.name) if settings.logo else ""
    return Brand(settings.name, settings.logo, words, settings.main_colour, settings.second_colour)


def service_line(settings: Settings, say: Catalogue) -> str:
    """Return the service's own line at the foot; what the settings leave blank is said to be not stated."""
    if not settings.name:
        return ""
    blank = say.say("foot/not_stated")
    return say.say(
        "foot/service",
        name=settings.name,
        contact=settings.contact or blank,
        legal_status=settings.legal_status or blank,
    )


def brand_style(brand: Brand | None) -> str:
    """Return the style that a brand adds to a page's own: two colours and nothing else, empty without any."""
    if brand is None:
        return ""
    light, dark = [], []
    for name, colour in (("accent", brand.accent), ("lines", brand.lines)):
        if colour is not None:
            light.append(f"--{name}:{colour.light}")
            dark.append(f"--{name}:{colour.dark}")
    if not light:
        return ""
    bright, night = ";".join(light), ";".join(dark)
    return (
        f"\n:root{{{bright}}}\n@media screen and (prefers-color-scheme:dark){{:root{{{night}}}}}"
        f"\n@media print{{:root{{{bright}}}}}"
    )


def paper_style(paper: PaperSize) -> str:
    """Return the style that sets the paper of a page printed from a browser; A4 is the style sheet's own."""
    return "\n@page{size:letter}" if paper == "letter" else ""


def logo_address(logo: Logo) -> str:
    """Return the logo as an address that holds it whole; a picture shown this way runs nothing and fetches nothing."""
    return f"data:{_MEDIA[logo.kind]};base64,{base64.b64encode(logo.data).decode()}"
