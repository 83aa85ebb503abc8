"""Settings of the service, read from the environment (``WEARWRIGHT_…``) or given by the caller."""

from pathlib import Path
from typing import Annotated, Self

from pydantic import Field, SecretStr, field_validator
from pydantic_settings import BaseSettings, NoDecode, SettingsConfigDict

DEFAULT_DATABASE = "sqlite:///wearwright.db"


class Settings(BaseSettings):
    """What an operator may choose.

    Attributes:
        database_url: ``sqlite:///FILE`` (default: wearwright.db here) or ``postgresql://…``.
        migrate: bring the schema up to date at the start; None: only SQLite does so by itself.
        jobs: run background work inside this process.
        job_threads: how many jobs run at once in this process.
        max_body_bytes: largest request body.
        max_import_bytes: largest file of an import.
        requests_per_minute: per key; 0 turns the limit off.
        session_secret: signs the session cookies of the pages; None: one made at the start, so that sessions end with
            the process. Several processes need the same.
        idempotency_hours: how long the answer to a keyed POST is kept.
        public_url: where people reach the pages ("https://cars.example"), for links in mails; None: no links.
        smtp_host, smtp_port: the mail server that takes digests; without a host none are sent.
        smtp_starttls: encrypt, and refuse to go on where the server cannot (default).
        smtp_ca_file: certificates to trust instead of the system's.
        smtp_user, smtp_password: to sign in with; only over an encrypted connection.
        mail_from: the address that digests come from.
        webhook_hosts: hosts ("host" or "host:port", with commas between) that webhooks may reach although they are inside
            this machine's own network, and without encryption; for tests and the demo. Default: none.
        log_level: "debug", "info", "warning" or "error".
        log_json: one JSON object per line; otherwise lines for people.
    """

    model_config = SettingsConfigDict(env_prefix="WEARWRIGHT_", extra="ignore")

    database_url: SecretStr = SecretStr(DEFAULT_DATABASE)
    migrate: bool | None = None
    jobs: bool = True
    job_threads: int = Field(default=2, ge=1, le=64)
    max_body_bytes: int = Field(default=1_000_000, ge=1)
    max_import_bytes: int = Field(default=2_000_000_000, ge=1)
    requests_per_minute: int = Field(default=6000, ge=0)
    session_secret: SecretStr | None = Field(default=None, min_length=32)
    idempotency_hours: int = Field(default=24, ge=1)
    public_url: str | None = Field(default=None, pattern=r"^https?://[^\s]+$")
    smtp_host: str | None = None
    smtp_port: int = Field(default=587, ge=1, le=65535)
    smtp_starttls: bool = True
    smtp_ca_file: Path | None = None
    smtp_user: str | None = None
    smtp_password: SecretStr | None = None
    mail_from: str | None = Field(default=None, pattern=r"^[^\s@<>]+@[^\s@<>]+$")
    webhook_hosts: Annotated[tuple[str, ...], NoDecode] = ()
    log_level: str = "info"
    log_json: bool = True

    @field_validator("webhook_hosts", mode="before")
    @classmethod
    def with_commas(cls, value: object) -> object:
        """Take a list written with commas apart."""
        return (
            [part.strip().lower() for part in value.split(",") if part.strip()]
            if isinstance(value, str)
            else value
        )

    @classmethod
    def for_file(cls, path: Path, **changes: object) -> Self:
        """Settings for a SQLite file, with other fields as given."""
        return cls.model_validate({"database_url": f"sqlite:///{path}", **changes})
