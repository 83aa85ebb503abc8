"""A digest as a mail: text, the same as HTML, the picture of the weeks ahead in it, the calendar attached."""

from __future__ import annotations

from email.headerregistry import Address
from email.message import EmailMessage
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from mrml import to_html

from api.calendar.feed import in_one_line
from api.pages.rendering import begun, day, month
from planner.figures import weeks_ahead

if TYPE_CHECKING:
    from api.digests.schemas import DigestOut, DigestPart, DigestParts

SECTIONS = (
    ("Became due this week", "became_due"),
    ("Due for longer", "still_due"),
    ("Due soon", "due_soon"),
)
MOST_LINES = 25
PICTURE_ID = "weeks@wearwright"


def message(
    digest: DigestOut,
    fleet_name: str,
    calendar: bytes,
    *,
    sender: str,
    address: str,
    identity: str,
    pages: str,
) -> EmailMessage:
    """The mail.

    Args:
        digest: what it says.
        fleet_name: whose it is.
        calendar: RFC 5545 bytes to attach.
        sender: whom it is from.
        address: whom it goes to.
        identity: the same for every try, so that a mail that arrives twice is seen to be the same.
        pages: where the pages answer, without a slash at the end; empty: no links.
    """
    picture = weeks_ahead(digest.weeks.counts, first=digest.weeks.first, due_before=digest.weeks.due_before)
    content = {
        "digest": digest,
        "fleet_name": in_one_line(fleet_name),
        "sections": [(title, getattr(digest, name)) for title, name in SECTIONS],
        "further_safety": _further_safety,
        "not_to_drive": {one.vehicle_id for one in digest.do_not_drive},
        "counted": _counted(digest),
        "minded": _minded(digest),
        "most": MOST_LINES,
        "pages": pages,
        "picture": picture,
        "picture_id": PICTURE_ID,
    }
    made = EmailMessage()
    made["Subject"] = in_one_line(f"Week {int(digest.week[6:])}: {_counted(digest)} – {fleet_name}")[:200]
    made["From"] = Address("wearwright", addr_spec=sender)
    made["To"] = Address(addr_spec=address)
    made["Date"] = digest.made_at
    made["Message-ID"] = f"<{identity}@{sender.rpartition('@')[2]}>"
    made["Auto-Submitted"] = "auto-generated"
    made.set_content(_filled("digest.txt", content))
    made.add_alternative(to_html(_filled("digest.mjml", content)).content, subtype="html")
    _put_picture(made, picture.png())
    made.add_attachment(
        calendar.decode(), subtype="calendar", filename="due-work.ics", params={"method": "PUBLISH"}
    )
    return made


def _minded(digest: DigestOut) -> list[tuple[str, list[str]]]:
    """The cautions of every safety part that the mail names, each kind once."""
    named = [one for _, name in SECTIONS for one in getattr(digest, name).items]
    named += [*digest.to_order[:MOST_LINES], *digest.accepted[:MOST_LINES]]
    return list({one.part: (one.part, one.cautions) for one in named if one.safety}.values())


def _further_safety(found: DigestParts) -> tuple[list[DigestPart], int]:
    """Safety parts of a section after those that the mail describes: those to name, and how many more there are."""
    named = [one for one in found.items[MOST_LINES:] if one.safety]
    told = len(named) + sum(one.safety for one in found.items[:MOST_LINES])
    return named, max(0, (found.safety or 0) - told)


def _counted(digest: DigestOut) -> str:
    forbidden = len({one.vehicle_id for one in digest.do_not_drive})
    first = f"do not drive {forbidden} {'car' if forbidden == 1 else 'cars'}, " if forbidden else ""
    longer = f"{digest.still_due.count} due for longer, " if digest.still_due.count else ""
    return f"{first}{digest.became_due.count} became due, {longer}{digest.due_soon.count} due soon"


def _put_picture(made: EmailMessage, png: bytes) -> None:
    html = made.get_body(("html",))
    if isinstance(html, EmailMessage):
        html.add_related(
            png,
            maintype="image",
            subtype="png",
            cid=f"<{PICTURE_ID}>",
            filename="weeks-ahead.png",
            disposition="inline",
        )


def _filled(template: str, content: dict[str, Any]) -> str:
    return _environment().get_template(template).render(content)


@lru_cache(maxsize=1)
def _environment() -> Environment:
    made = Environment(
        loader=PackageLoader("api.mail"),
        autoescape=select_autoescape(("mjml",), default=False),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters.update(day=day, month=month, begun=begun, line=in_one_line)
    return made
