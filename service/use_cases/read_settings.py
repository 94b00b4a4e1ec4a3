"""Read the kitchen's settings: as recorded, else the defaults, at revision 0."""

from datetime import date

from service.domain.kitchen import Kitchen
from service.domain.kitchen_settings import KitchenSettings
from service.use_cases.documents import Document, document
from service.use_cases.keep_record import record_document


def read_settings(kitchen: Kitchen, day: date) -> Document:
    """The settings as they stand on a day."""
    if not kitchen.settings:
        return document(KitchenSettings()) | {
            "revision": 0, "version_revision": 0, "in_force_from": None, "scheduled": []}
    return record_document(kitchen.settings, day)
