from .describe import (
    Finding as Finding,
)
from .describe import (
    GainsLine as GainsLine,
)
from .describe import (
    gains_lines as gains_lines,
)
from .describe import (
    told_result as told_result,
)
from .feed import (
    feed_agreement as feed_agreement,
)
from .feed import (
    feed_by_marks as feed_by_marks,
)
from .feed import (
    feed_by_mass as feed_by_mass,
)
from .gains import (
    parallel as parallel,
)
from .gains import (
    simc as simc,
)
from .gains import (
    starting_gains as starting_gains,
)
from .gains import (
    ziegler_nichols as ziegler_nichols,
)
from .heater_log import (
    HeaterLog as HeaterLog,
)
from .heater_log import (
    read_heater_log as read_heater_log,
)
from .heater_model import (
    heat_up as heat_up,
)
from .heater_model import (
    identify as identify,
)
from .heater_model import (
    simulate as simulate,
)
from .heater_model import (
    standing_loss as standing_loss,
)
from .heater_summary import (
    heater_account as heater_account,
)
from .line import (
    Line as Line,
)
from .line import (
    fit_line as fit_line,
)
from .moves import (
    move_correction as move_correction,
)
from .moves import (
    squareness as squareness,
)
from .result import (
    BringUpResult as BringUpResult,
)
from .result import (
    Gains as Gains,
)
from .result import (
    HeaterResult as HeaterResult,
)
from .result import (
    applied as applied,
)
from .result import (
    together as together,
)
from .sheet import (
    bring_up_sheet as bring_up_sheet,
)
from .sheet import (
    sheet_page as sheet_page,
)

__all__ = [
    "BringUpResult",
    "Finding",
    "Gains",
    "GainsLine",
    "HeaterLog",
    "HeaterResult",
    "Line",
    "applied",
    "bring_up_sheet",
    "feed_agreement",
    "feed_by_marks",
    "feed_by_mass",
    "fit_line",
    "gains_lines",
    "heat_up",
    "heater_account",
    "identify",
    "move_correction",
    "parallel",
    "read_heater_log",
    "sheet_page",
    "simc",
    "simulate",
    "squareness",
    "standing_loss",
    "starting_gains",
    "together",
    "told_result",
    "ziegler_nichols",
]
