from .charts.cause.shaking import filters_chart, ripple_chart, shaking_chart
from .charts.chart import NARROW_PX, WIDE_PX, Chart, inline_svg, render_png, render_svg, with_theme
from .charts.print.breakdown import flow_time_chart, layer_times_chart
from .charts.print.limits import flow_chart, limits_chart, what_if_chart
from .charts.print.survey import survey_chart
from .charts.rig.bringup import heater_chart
from .charts.rig.fit import acceleration_chart, fit_sentence
from .charts.rig.hot_end import force_chart, outlet_chart
from .charts.rig.inside import inside_chart, nozzle_chart, shares_chart
from .charts.rig.melt import length_chart, predicted_ceiling_chart
from .charts.trial.ceiling import ceiling_chart, comparison_chart
from .charts.trial.delivered import delivered_chart
from .charts.trial.live import live_chart
from .charts.trial.loss import loss_chart
from .charts.trial.method import drift_chart
from .charts.trial.outlook import outlook_chart
from .charts.trial.residual import residual_chart
from .charts.trial.speeds import speeds_chart
from .charts.trial.trace import trace_chart
from .charts.wear.figures import hours_charts, part_charts, series_charts, wear_charts
from .charts.witness.threshold import threshold_charts
from .charts.worth.forest import forest_chart
from .charts.worth.options import options_chart, ranking_chart
from .charts.worth.payback import limits_worth_chart, payback_chart
from .charts.worth.tornado import tornado_chart
from .charts.worth.typical import classes_of, typical_chart
from .data import ReadingEntry, ReportData
from .points import talking_points
from .render.figure_files import write_figures
from .render.figures import figure, pictures
from .render.html import dossier_html, render_section
from .render.pdf import dossier_pdf
from .sections.bringup import BroughtUp
from .sections.cause import PublishedCause
from .sections.fit import FitFound
from .sections.journal import PublishedPage
from .sections.live import PublishedLive
from .sections.predicted import PredictedRigs
from .sections.replays import ReplayedPrint
from .sections.typical import forests
from .sections.witness import PublishedWitness
from .sentences import answer_sentence, ceiling_words, level
from .terms import meanings
from .theme import recolour_css, tokens_css
from .versions import software_versions
from .written import section_texts

__all__ = [
    "NARROW_PX",
    "WIDE_PX",
    "BroughtUp",
    "Chart",
    "FitFound",
    "PredictedRigs",
    "PublishedCause",
    "PublishedLive",
    "PublishedPage",
    "PublishedWitness",
    "ReadingEntry",
    "ReplayedPrint",
    "ReportData",
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
    "figure",
    "filters_chart",
    "fit_sentence",
    "flow_chart",
    "flow_time_chart",
    "force_chart",
    "forest_chart",
    "forests",
    "heater_chart",
    "hours_charts",
    "inline_svg",
    "inside_chart",
    "layer_times_chart",
    "length_chart",
    "level",
    "limits_chart",
    "limits_worth_chart",
    "live_chart",
    "loss_chart",
    "meanings",
    "nozzle_chart",
    "options_chart",
    "outlet_chart",
    "outlook_chart",
    "part_charts",
    "payback_chart",
    "pictures",
    "predicted_ceiling_chart",
    "ranking_chart",
    "recolour_css",
    "render_png",
    "render_section",
    "render_svg",
    "residual_chart",
    "ripple_chart",
    "section_texts",
    "series_charts",
    "shaking_chart",
    "shares_chart",
    "software_versions",
    "speeds_chart",
    "survey_chart",
    "talking_points",
    "threshold_charts",
    "tokens_css",
    "tornado_chart",
    "trace_chart",
    "typical_chart",
    "wear_charts",
    "what_if_chart",
    "with_theme",
    "write_figures",
]
