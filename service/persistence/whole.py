"""Whether a ledger is whole: its chain, the tables beside it, and the figures that are published of it."""

from collections.abc import Callable, Iterator, Mapping

from service.persistence.engines import Engines
from service.persistence.ledger import SqlLedger
from service.persistence.verifying import told
from service.use_cases.verify_figures import wrong_figures

Progress = Callable[[str, int], None]


def what_is_wrong(engines: Engines, anchors: Mapping[int, str] | None = None, quick: bool = False,
                  progress: Progress = lambda _what, _done: None) -> list[str]:
    """What is wrong, a sentence each; of the chain alone where it is to be `quick`.

    Figures are recomputed of a ledger alone that is whole so far: of another they say nothing.

    Shape:   `anchors` are hashes by revision, noted earlier and kept elsewhere.
    Raises:  LedgerUnavailable when the database cannot be read, which its damage may be.
    """
    wrong = list(told(engines, anchors or {}, quick, progress))
    return wrong if wrong or quick else list(_figures(engines, progress))


def _figures(engines: Engines, progress: Progress) -> Iterator[str]:
    for wrong in wrong_figures(SqlLedger(engines), lambda done: progress("dishes recomputed", done)):
        yield f"revision {wrong.revision}, dish {wrong.dish} on {wrong.day}: {wrong.detail}."
