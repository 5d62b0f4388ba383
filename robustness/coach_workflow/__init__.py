"""A coach's hour: a whole new match through the page in a browser; presses, watching and waiting are counted.

The coach of the script knows the truth of the match, answers what the page asks, and corrects what is
proposed wrongly where a rally is watched. Nothing is corrected that a coach would not have looked at.
"""

from robustness.coach_workflow.video_to_handout_benchmark import bench_hour

__all__ = ["bench_hour"]
