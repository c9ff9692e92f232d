"""One of several dives that were told one by one."""

from pydantic import BaseModel, ConfigDict


class OneDive(BaseModel):
    """What was said of one of several dives. None: nothing, so what was said of all holds."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    max_depth_m: float | None = None
    duration_min: int | None = None
    min_temp_c: float | None = None
    o2_fraction: float | None = None
