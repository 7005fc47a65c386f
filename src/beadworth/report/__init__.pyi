from .charts.chart import (
    NARROW_PX as NARROW_PX,
)
from .charts.chart import (
    WIDE_PX as WIDE_PX,
)
from .charts.chart import (
    Chart as Chart,
)
from .charts.chart import (
    inline_svg as inline_svg,
)
from .charts.chart import (
    render_png as render_png,
)
from .charts.chart import (
    render_svg as render_svg,
)
from .charts.chart import (
    with_theme as with_theme,
)
from .charts.print.limits import (
    flow_chart as flow_chart,
)
from .charts.print.limits import (
    limits_chart as limits_chart,
)
from .charts.print.limits import (
    what_if_chart as what_if_chart,
)
from .charts.rig.bringup import (
    heater_chart as heater_chart,
)
from .charts.rig.fit import (
    acceleration_chart as acceleration_chart,
)
from .charts.rig.fit import (
    fit_sentence as fit_sentence,
)
from .charts.rig.hot_end import (
    force_chart as force_chart,
)
from .charts.rig.hot_end import (
    outlet_chart as outlet_chart,
)
from .charts.rig.melt import (
    length_chart as length_chart,
)
from .charts.rig.melt import (
    predicted_ceiling_chart as predicted_ceiling_chart,
)
from .charts.trial.ceiling import (
    ceiling_chart as ceiling_chart,
)
from .charts.trial.ceiling import (
    comparison_chart as comparison_chart,
)
from .charts.trial.delivered import (
    delivered_chart as delivered_chart,
)
from .charts.trial.loss import (
    loss_chart as loss_chart,
)
from .charts.trial.method import (
    drift_chart as drift_chart,
)
from .charts.trial.residual import (
    residual_chart as residual_chart,
)
from .charts.trial.speeds import (
    speeds_chart as speeds_chart,
)
from .charts.wear.figures import (
    hours_charts as hours_charts,
)
from .charts.wear.figures import (
    part_charts as part_charts,
)
from .charts.wear.figures import (
    series_charts as series_charts,
)
from .charts.wear.figures import (
    wear_charts as wear_charts,
)
from .charts.worth.forest import (
    forest_chart as forest_chart,
)
from .charts.worth.options import (
    options_chart as options_chart,
)
from .charts.worth.options import (
    ranking_chart as ranking_chart,
)
from .charts.worth.payback import (
    limits_worth_chart as limits_worth_chart,
)
from .charts.worth.payback import (
    payback_chart as payback_chart,
)
from .charts.worth.tornado import (
    tornado_chart as tornado_chart,
)
from .charts.worth.typical import (
    classes_of as classes_of,
)
from .charts.worth.typical import (
    typical_chart as typical_chart,
)
from .data import (
    Amendment as Amendment,
)
from .data import (
    DossierData as DossierData,
)
from .data import (
    ReadingEntry as ReadingEntry,
)
from .points import (
    talking_points as talking_points,
)
from .render.figure_files import (
    write_figures as write_figures,
)
from .render.figures import (
    pictures as pictures,
)
from .render.html import (
    dossier_html as dossier_html,
)
from .render.pdf import (
    dossier_pdf as dossier_pdf,
)
from .sections.bringup import (
    BroughtUp as BroughtUp,
)
from .sections.fit import (
    FitFound as FitFound,
)
from .sections.journal import (
    ShownPage as ShownPage,
)
from .sections.replays import (
    ReplayedPrint as ReplayedPrint,
)
from .sections.typical import (
    forests as forests,
)
from .sentences import (
    answer_sentence as answer_sentence,
)
from .sentences import (
    ceiling_words as ceiling_words,
)
from .sentences import (
    level as level,
)
from .theme import (
    recolour_css as recolour_css,
)
from .theme import (
    tokens_css as tokens_css,
)
from .versions import (
    software_versions as software_versions,
)

__all__ = [
    "NARROW_PX",
    "WIDE_PX",
    "Amendment",
    "BroughtUp",
    "Chart",
    "DossierData",
    "FitFound",
    "ReadingEntry",
    "ReplayedPrint",
    "ShownPage",
    "acceleration_chart",
    "answer_sentence",
    "ceiling_chart",
    "ceiling_words",
    "classes_of",
    "comparison_chart",
    "delivered_chart",
    "dossier_html",
    "dossier_pdf",
    "drift_chart",
    "fit_sentence",
    "flow_chart",
    "force_chart",
    "forest_chart",
    "forests",
    "heater_chart",
    "hours_charts",
    "inline_svg",
    "length_chart",
    "level",
    "limits_chart",
    "limits_worth_chart",
    "loss_chart",
    "options_chart",
    "outlet_chart",
    "part_charts",
    "payback_chart",
    "pictures",
    "predicted_ceiling_chart",
    "ranking_chart",
    "recolour_css",
    "render_png",
    "render_svg",
    "residual_chart",
    "series_charts",
    "software_versions",
    "speeds_chart",
    "talking_points",
    "tokens_css",
    "tornado_chart",
    "typical_chart",
    "wear_charts",
    "what_if_chart",
    "with_theme",
    "write_figures",
]
