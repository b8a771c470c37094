"""A service's brand on a page: its head, its own line at the foot, and the little style that it may set."""

from __future__ import annotations

import base64
import dataclasses
from collections.abc import Mapping
from typing import Any, TypeVar

from reports.settings.settings import PaperSize, Settings
from reports.sheets.content import Brand, PageContent, Source, StudyRow
from reports.words.catalogue import Catalogue
from reports.words.measures import Units, temperatures_in
from reports.words.told import Told

__all__ = ["brand_of", "dress_style", "dress_values", "dressed", "service_line"]

P = TypeVar("P", bound=PageContent)

_MEDIA: Mapping[str, str] = {"svg": "image/svg+xml", "png": "image/png"}


def dressed(content: P, settings: Settings, say: Catalogue) -> P:
    """Return a page of any kind in the service's brand and on its paper; say: the catalogue's part "settings".

    Beside them only temperatures change, to the units asked for; what papers printed stays as printed. An unbranded
    page takes paper and units and nothing of the brand.
    """
    if settings.units != "metric":
        content = _in_units(content, settings.units)
    if content.unbranded:
        return dataclasses.replace(content, paper=settings.paper)
    foot = dataclasses.replace(
        content.foot, service=service_line(settings, say), address=settings.pages_at or content.foot.address
    )
    return dataclasses.replace(content, paper=settings.paper, brand=brand_of(settings, say), foot=foot)


def _in_units(value: Any, units: Units) -> Any:
    """Return a value with its sentences' temperatures in other units, however deep; rows and sources as printed."""
    if isinstance(value, Told):
        return Told(temperatures_in(value, units), *value.trail)
    if isinstance(value, str):
        return temperatures_in(value, units)
    if isinstance(value, tuple):
        return tuple(_in_units(each, units) for each in value)
    if isinstance(value, StudyRow | Source):
        return value
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        changes = {field.name: _in_units(getattr(value, field.name), units) for field in dataclasses.fields(value)}
        return dataclasses.replace(value, **changes)
    return value


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


def dress_style(brand: Brand | None, paper: PaperSize) -> str:
    """Return the style that brand and paper add to a page's own: at most two colours and a size of paper."""
    light, dark = [], []
    for name, colour in (("accent", brand and brand.accent), ("lines", brand and brand.lines)):
        if colour:
            light.append(f"--{name}:{colour.light}")
            dark.append(f"--{name}:{colour.dark}")
    style = "\n@page{size:letter}" if paper == "letter" else ""
    if light:
        bright, night = ";".join(light), ";".join(dark)
        style += f"\n:root{{{bright}}}\n@media screen and (prefers-color-scheme:dark){{:root{{{night}}}}}"
        style += f"\n@media print{{:root{{{bright}}}}}"
    return style


def dress_values(brand: Brand | None) -> dict[str, Any]:
    """Return what brand.html.jinja reads: the brand, and its logo as an address that holds the picture whole.

    A picture shown by its address runs nothing and fetches nothing.
    """
    logo = brand.logo if brand else None
    address = f"data:{_MEDIA[logo.kind]};base64,{base64.b64encode(logo.data).decode()}" if logo else ""
    return {"brand": brand, "logo": address}
