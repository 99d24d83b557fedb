"""What the operator is told of the crane: where not, from which slopes to ask, and ratings."""

from __future__ import annotations

from terrain.decision.crane_checks import CHECKS
from terrain.decision.results import Plan
from terrain.outputs.brief_steep import crane_check_slopes, crane_ratings, crane_trails
from terrain.outputs.brief_words import Figures, trail_names
from terrain.outputs.catalogue import mark

__all__ = ["crane_lines"]

_CRANE_WAYS = (mark("{slope} across"), mark("{slope} front uphill"), mark("{slope} front downhill"))
"""In the order of the crane's checks: over the rear end the machine tips with its front uphill."""


def crane_lines(plan: Plan, figures: Figures) -> list[str]:
    """Where the machine begins to tip with its crane out, and from which slopes to ask."""
    crane, slopes = plan.machine.crane, crane_check_slopes(plan)
    if crane is None or not slopes:
        return []
    say, lines = figures.words.say, []
    reach, mass = figures.reach(crane.reach_m), figures.mass(crane.lifted_mass_kg)
    trails = crane_trails(plan)
    if trails:
        lines.append(
            say(
                "Crane out to {reach} with {mass}: tips by plain statics on {trails}. Not there. "
                "Stop and ask.",
                reach=reach,
                mass=mass,
                trails=trail_names(trails, figures),
            )
        )
    end = say("near tipping on level ground already")
    if min(slopes.values()) > 0:
        ways = [
            say(message, slope=figures.slope_down(slopes[check]))
            for check, message in zip(CHECKS, _CRANE_WAYS, strict=True)
            if check in slopes
        ]
        end = say("near tipping from {slopes} on", slopes=", ".join(ways))
    line = say(
        "Crane by its chart only, frames locked and straight: out to {reach} with {mass} {end}.",
        reach=reach,
        mass=mass,
        end=end,
    )
    lines.append(line)
    if over := crane_ratings(plan):
        names = ", ".join(figures.words.term(name) for name in over)
        line = say("Crane out: over a rating on level ground ({ratings}). Ask.", ratings=names)
        lines.append(line)
    return lines
