"""Plans and drills: the library, a coach's own drills, the plan with its cautions."""
