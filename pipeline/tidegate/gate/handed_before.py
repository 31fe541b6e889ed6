"""What a gate remembers of its trees between one ticket and the next."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import InitVar, dataclass, field

from .delivered_names import DeliveredProps
from .layout import Layout
from .returned import ReturnedProps
from .ticket_ids import TicketIds


@dataclass(slots=True)
class HandedBefore:
    """Reads the trees when asked, changes nothing. in_ledger: see `TicketIds`."""

    layout: Layout
    in_ledger: InitVar[Callable[[], str]] = lambda: ""
    returned: ReturnedProps = field(init=False)
    delivered: DeliveredProps = field(init=False)
    ids: TicketIds = field(init=False)

    def __post_init__(self, in_ledger: Callable[[], str]) -> None:
        self.returned = ReturnedProps(self.layout.paths.returned)
        self.delivered = DeliveredProps(self.layout.paths.delivery)
        self.ids = TicketIds(self.layout, in_ledger)
