"""Handing a message to the mail server: STARTTLS by default, signing in where a user is set.

Sources: RFC 5321 (SMTP; §4.2.1, a 5yz reply is final and a 4yz one is not); RFC 3207 (STARTTLS).
"""

from __future__ import annotations

import smtplib
import ssl
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from email.message import EmailMessage

    from api.settings import Settings

_TIMEOUT_SECONDS = 20.0


class MailError(Exception):
    """The mail was not taken.

    Attributes:
        final: trying again will not help.
    """

    def __init__(self, what: str, *, final: bool = False) -> None:
        self.final = final
        super().__init__(what)


def hindrance(settings: Settings) -> str | None:
    """Why no mail can be sent at all, in words; None where a mail server is set."""
    missing = [
        name
        for name, value in (
            ("WEARWRIGHT_SMTP_HOST", settings.smtp_host),
            ("WEARWRIGHT_MAIL_FROM", settings.mail_from),
        )
        if not value
    ]
    return f"No mail server is set: set {' and '.join(missing)}." if missing else None


def send(message: EmailMessage, settings: Settings) -> None:
    """Hand a message over.

    Raises:
        MailError: no server is set, it cannot be reached, or it did not take the mail.
    """
    missing = hindrance(settings)
    if missing is not None or settings.smtp_host is None:
        raise MailError(missing or "")
    try:
        with smtplib.SMTP(settings.smtp_host, settings.smtp_port, timeout=_TIMEOUT_SECONDS) as server:
            _prepare(server, settings)
            server.send_message(message)
    except smtplib.SMTPRecipientsRefused as refused:
        code, words = next(iter(refused.recipients.values()))
        raise MailError(
            f"the server refused the address: {code} {_text(words)}", final=code >= 500
        ) from refused
    except smtplib.SMTPResponseException as refused:
        raise MailError(f"the server answered {refused.smtp_code} {_text(refused.smtp_error)}") from refused
    except (OSError, smtplib.SMTPException) as lost:
        raise MailError(
            f"the mail server could not be used: {str(lost)[:200] or type(lost).__name__}"
        ) from lost


def _prepare(server: smtplib.SMTP, settings: Settings) -> None:
    if settings.smtp_starttls:
        server.starttls(context=ssl.create_default_context(cafile=settings.smtp_ca_file))
    elif settings.smtp_user is not None:
        raise MailError(
            "signing in needs an encrypted connection: leave WEARWRIGHT_SMTP_STARTTLS on", final=True
        )
    if settings.smtp_user is not None and settings.smtp_password is not None:
        server.login(settings.smtp_user, settings.smtp_password.get_secret_value())


def _text(words: bytes | str) -> str:
    return (words if isinstance(words, str) else words.decode("utf-8", "replace"))[:200]
