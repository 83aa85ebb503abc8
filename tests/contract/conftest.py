"""The service of the API tests, for the contract tests too."""

from tests.api.conftest import service

__all__ = ["service"]
