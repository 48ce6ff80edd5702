"""One sheet for everybody, for clerks in tests."""

from neckyoke.bridge.job.clerk import Held, OneSheet
from neckyoke.bridge.job.roster.roster import Roster
from neckyoke.bridge.job.sheet import Sheet
from neckyoke.bridge.station.account import Account


def one(sheet: Sheet | None = None, roster: Roster | None = None, account: Account | None = None) -> OneSheet:
    """Let this sheet hold for everybody."""
    return OneSheet(Held(sheet, roster, account.weighed if account else {}))
