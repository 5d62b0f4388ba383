"""How two players move on the court of a recording of the test family.

Written on 30 November 2026 without knowledge of any detector's code, of the generators for learning and
choosing, or of any figure of theirs. Rules of play fix boxes, sides and intervals; habits are ASSUMED.
"""
