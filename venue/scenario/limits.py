"""Limits on what a visitor may spend: by the house, by law, or by the visitor's own wish. Off unless stated."""

from __future__ import annotations

from pydantic import Field

from venue.scenario.fields import Credits, Part


class Limits(Part):
    """Caps on the credits one visitor spends; what they cost is a comparison away."""

    spend_per_visit: Credits | None = Field(None, description="most credits in one visit; no limit if unsaid")
    spend_per_hour: Credits | None = Field(
        None,
        description="credits released at the door and after each hour of a visit, what is left carrying over; no limit "
        "if unsaid",
    )
