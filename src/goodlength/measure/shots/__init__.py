"""The ball followed through whole rallies: candidates, sounds, players and camera joined to shots.

`followed_ball_types` is the data form: `FollowedMatch` > `FollowedRally` > `FollowedShot` > `ShotPath` >
`PathContact`. `followed_ball_storage` reads and writes it (`read_followed`, `write_followed`; the file is
`library_layout.followed_ball_file`) and publishes its schema; `followed_ball_tables` has its tables.
`ball_following_through_rally.follow_rally` computes one rally from stored candidates, sounds (`impacts_of`
reads those of detection), players' tracks and the camera; a coach's clicks and strikes go in as
`RallyCorrections`. It reads no pictures and never writes to the record: everything is a proposal with its
chance.
"""
