"""Routes, one file per noun."""

from __future__ import annotations

from fastapi import APIRouter


def routers() -> tuple[APIRouter, ...]:
    """Every router of the app; fixed addresses before those that hold a name."""
    from beadworth.web.routes import (
        api_capacity,
        api_packages,
        api_prints,
        api_records,
        api_rigs,
        api_trials,
        api_wear,
        api_worth,
        bringup,
        findings,
        home,
        journal,
        materials,
        melt,
        next_coupons,
        packages,
        parts,
        plans,
        prints,
        programs,
        publish,
        readings,
        rig_fit,
        rig_fit_record,
        rig_lists,
        rigs,
        trials,
        wear,
        weigh,
        worth,
    )

    return (
        home.router,
        bringup.router,
        melt.router,
        rig_fit.router,
        rig_fit_record.router,
        rig_lists.router,
        rigs.router,
        materials.router,
        plans.router,
        readings.router,
        weigh.router,
        programs.router,
        next_coupons.router,
        findings.router,
        publish.router,
        parts.router,
        trials.router,
        prints.router,
        packages.router,
        wear.router,
        worth.router,
        journal.router,
        api_records.router,
        api_rigs.router,
        api_trials.router,
        api_capacity.router,
        api_prints.router,
        api_packages.router,
        api_worth.router,
        api_wear.router,
    )
