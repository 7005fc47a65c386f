from .bringup import (
    KeptBringUp as KeptBringUp,
)
from .bringup import (
    chosen as chosen,
)
from .bringup import (
    keep as keep,
)
from .bringup import (
    kept as kept,
)
from .bringup import (
    take as take,
)
from .calibration import (
    lesson as lesson,
)
from .import_readings import (
    take_table as take_table,
)
from .journal import (
    JOURNAL_KIND as JOURNAL_KIND,
)
from .journal import (
    NewPhoto as NewPhoto,
)
from .journal import (
    add_page as add_page,
)
from .journal import (
    journal_entries as journal_entries,
)
from .journal import (
    known_subject as known_subject,
)
from .journal import (
    show_page as show_page,
)
from .journal import (
    supersede_page as supersede_page,
)
from .journal import (
    void_page as void_page,
)
from .package_sources import (
    read_source as read_source,
)
from .package_sources import (
    write_files as write_files,
)
from .packages import (
    ImportedPackage as ImportedPackage,
)
from .packages import (
    compare_with_package as compare_with_package,
)
from .packages import (
    export_files as export_files,
)
from .packages import (
    find_package as find_package,
)
from .packages import (
    import_package as import_package,
)
from .packages import (
    imported_packages as imported_packages,
)
from .packages import (
    label as label,
)
from .packages import (
    package_fit as package_fit,
)
from .packages import (
    unreadable_packages as unreadable_packages,
)
from .publish import (
    PARTS as PARTS,
)
from .publish import (
    Part as Part,
)
from .publish import (
    publish_dossier as publish_dossier,
)
from .publish import (
    zip_folder as zip_folder,
)
from .report_data import (
    dossier_data as dossier_data,
)
from .report_data import (
    rig_order as rig_order,
)
from .survey import (
    run_survey as run_survey,
)
from .survey_notes import (
    surveys as surveys,
)
from .trial import (
    add_coupons as add_coupons,
)
from .trial import (
    fit_readings as fit_readings,
)
from .trial import (
    make_plan as make_plan,
)
from .trial import (
    trial_comparison as trial_comparison,
)
from .trial import (
    trial_fit as trial_fit,
)
from .trial import (
    trial_next as trial_next,
)
from .trial import (
    trial_programs as trial_programs,
)
from .trial import (
    trial_speeds as trial_speeds,
)
from .trial import (
    write_programs as write_programs,
)
from .typical import (
    trial_typical as trial_typical,
)
from .wear import (
    WEAR_KIND as WEAR_KIND,
)
from .wear import (
    add_wear as add_wear,
)
from .wear import (
    compare_wear as compare_wear,
)
from .wear import (
    overdue as overdue,
)
from .wear import (
    summary_of as summary_of,
)
from .wear import (
    supersede_wear as supersede_wear,
)
from .wear import (
    void_wear as void_wear,
)
from .wear import (
    wear_log as wear_log,
)
from .weighing import (
    answer_for as answer_for,
)
from .weighing import (
    void_reading as void_reading,
)
from .weighing import (
    weigh_in as weigh_in,
)
from .worth import (
    WORTH_KIND as WORTH_KIND,
)
from .worth import (
    KeptWorth as KeptWorth,
)
from .worth import (
    answer_of as answer_of,
)
from .worth import (
    keep_worth as keep_worth,
)
from .worth import (
    kept_case as kept_case,
)
from .worth import (
    kept_cases as kept_cases,
)
from .worth import (
    material_density as material_density,
)
from .worth import (
    worth_of as worth_of,
)

__all__ = [
    "JOURNAL_KIND",
    "PARTS",
    "WEAR_KIND",
    "WORTH_KIND",
    "ImportedPackage",
    "KeptBringUp",
    "KeptWorth",
    "NewPhoto",
    "Part",
    "add_coupons",
    "add_page",
    "add_wear",
    "answer_for",
    "answer_of",
    "chosen",
    "compare_wear",
    "compare_with_package",
    "dossier_data",
    "export_files",
    "find_package",
    "fit_readings",
    "import_package",
    "imported_packages",
    "journal_entries",
    "keep",
    "keep_worth",
    "kept",
    "kept_case",
    "kept_cases",
    "known_subject",
    "label",
    "lesson",
    "make_plan",
    "material_density",
    "overdue",
    "package_fit",
    "publish_dossier",
    "read_source",
    "rig_order",
    "run_survey",
    "show_page",
    "summary_of",
    "supersede_page",
    "supersede_wear",
    "surveys",
    "take",
    "take_table",
    "trial_comparison",
    "trial_fit",
    "trial_next",
    "trial_programs",
    "trial_speeds",
    "trial_typical",
    "unreadable_packages",
    "void_page",
    "void_reading",
    "void_wear",
    "wear_log",
    "weigh_in",
    "worth_of",
    "write_files",
    "write_programs",
    "zip_folder",
]
