"""Every table of the service; importing this package registers them all on one metadata."""

from api.storage.tables.base import Row, metadata
from api.storage.tables.calendar import CalendarAddress
from api.storage.tables.decisions import KindBacktest, KindRule, PlannedUse, PutOff
from api.storage.tables.digests import Digest
from api.storage.tables.faults import FaultFinding, OwnCheck, OwnComplaint
from api.storage.tables.fleets import ApiKey, Fleet
from api.storage.tables.history import Fitment, Inspection, Removal, Repair
from api.storage.tables.imports import BulkImport, ImportFault, ImportMatch, ImportPart, ImportTouch
from api.storage.tables.mail import DigestDelivery, DigestSubscription
from api.storage.tables.planning import Forecast, IntervalTable, KindSettings, LifeModel
from api.storage.tables.vehicles import OdometerReading, Vehicle, VehicleUsage
from api.storage.tables.webhooks import DueSoonTold, Webhook, WebhookDelivery, WebhookEvent
from api.storage.tables.work import IdempotencyRecord, Job, Worker

__all__ = [
    "ApiKey",
    "BulkImport",
    "CalendarAddress",
    "Digest",
    "DigestDelivery",
    "DigestSubscription",
    "DueSoonTold",
    "FaultFinding",
    "Fitment",
    "Fleet",
    "Forecast",
    "IdempotencyRecord",
    "ImportFault",
    "ImportMatch",
    "ImportPart",
    "ImportTouch",
    "Inspection",
    "IntervalTable",
    "Job",
    "KindBacktest",
    "KindRule",
    "KindSettings",
    "LifeModel",
    "OdometerReading",
    "OwnCheck",
    "OwnComplaint",
    "PlannedUse",
    "PutOff",
    "Removal",
    "Repair",
    "Row",
    "Vehicle",
    "VehicleUsage",
    "Webhook",
    "WebhookDelivery",
    "WebhookEvent",
    "Worker",
    "metadata",
]
