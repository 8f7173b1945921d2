"""Where things happened: one file is one kind of stretch, found from the signals alone."""

from arteriole.episodes.episode import Episode
from arteriole.episodes.find import FoundEpisodes, find_episodes, states_of
from arteriole.episodes.gauge import Gauge, GaugeReading, GaugeStep
from arteriole.episodes.hyperaemia import Hyperaemia, Sign, Stretch
from arteriole.episodes.pullback_trace import PullbackStep, PullbackTrace
from arteriole.episodes.trend import Trend, trend_of

__all__ = [
    "Episode", "FoundEpisodes", "Gauge", "GaugeReading", "GaugeStep", "Hyperaemia", "PullbackStep",
    "PullbackTrace", "Sign", "Stretch", "Trend", "find_episodes", "states_of", "trend_of",
]  # fmt: skip
