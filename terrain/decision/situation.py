"""The whole situation of a run, for questions of the kind "what if": one record, nothing new."""

from __future__ import annotations

from dataclasses import dataclass

from terrain.decision.assessment import Assessment
from terrain.decision.look_along import AlongTrails, Surfaces
from terrain.decision.strength import Strength
from terrain.inputs.loaded import LoadedBlock
from terrain.models.settings import Settings
from terrain.stations.water import Water

__all__ = ["Situation"]


@dataclass(frozen=True, slots=True)
class Situation:
    """Block, surfaces, trails and the assessment of the block's machine."""

    block: LoadedBlock
    surfaces: Surfaces
    water: Water
    strength: Strength
    along: AlongTrails
    assessment: Assessment

    @property
    def settings(self) -> Settings:
        """Settings of the run."""
        return self.block.settings

    @property
    def shown(self) -> str:
        """Setup that map and tables show: the candidate, or the nearest that does not suit."""
        return self.assessment.ranking.shown
