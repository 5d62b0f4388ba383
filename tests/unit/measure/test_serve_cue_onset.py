"""How early it shows: an onset put in is found, luck is not, place is taken off, few serves say so."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from goodlength.bench.footage import serve_cue_onset_accuracy
from goodlength.errors import InputError
from goodlength.measure.body.pose_normalisation import normalise_poses
from goodlength.measure.body.serve_cue_onset import (
    LEAST_OF_A_KIND,
    STAYS,
    DisguiseResult,
    TooFewServes,
    disguise_words,
    time_of_disguise_loss,
)
from goodlength.measure.body.serve_kind_over_time_classifier import auc, cv_folds, hat_matrices
from goodlength.synthetic import simulated_poses
from goodlength.tasks.findings.serve_kind_disclosure_time import disguise_from_file


def test_an_onset_is_found_and_a_little_late() -> None:
    joints, labels, match, box, places = simulated_poses.serves(np.random.default_rng(8), 24, -0.30)
    found = time_of_disguise_loss(
        joints, simulated_poses.TIMES_S, labels, groups=match, strata=box, places=places, shuffles=200
    )
    assert isinstance(found, DisguiseResult)
    assert found.tell_s is not None
    assert -0.32 <= found.tell_s <= -0.14
    assert found.range_s is not None
    assert found.range_s[0] <= found.tell_s + 0.04
    stays = found.score[found.until_s >= found.tell_s][:STAYS]
    assert stays.min() > found.threshold
    apart = np.linalg.norm(found.mean_kind[-1] - found.mean_others[-1], axis=-1)
    assert set(np.argsort(apart)[-3:]) == set(simulated_poses.ARM)
    words = " ".join(disguise_words(found, ("lob", "lobs"), "Imogen"))
    assert "24 lobs compared with 24 other serves" in words
    assert "With more serves it may show earlier." in words
    for never in ("significant", "proven", "confidence", "%"):
        assert never not in words


def test_a_twentieth_of_the_bench_holds() -> None:
    told = serve_cue_onset_accuracy.bench_serve_disguise(7, 10, 5)
    assert told.false_tells <= 1
    assert told.found >= 4
    assert 0.0 <= told.late_s <= 0.16


def test_posture_that_only_says_where_she_stands_is_no_tell() -> None:
    rng = np.random.default_rng(5)
    joints, labels, match, box, places = simulated_poses.serves(rng, 24, None)
    places = places + np.where(labels, 0.8, 0.0)[:, None]
    joints = joints + 20.0 * np.where(labels, 0.8, 0.0)[:, None, None, None] * simulated_poses.BODY / 60.0
    plain = time_of_disguise_loss(
        joints, simulated_poses.TIMES_S, labels, groups=match, strata=box, places=places, shuffles=200
    )
    assert isinstance(plain, DisguiseResult)
    assert plain.tell_s is None
    assert plain.place_tells
    assert plain.place_score is not None
    assert plain.place_score > 0.9
    assert "The starting position gives the serve away" in " ".join(
        disguise_words(plain, ("lob", "lobs"), "Imogen")
    )


@pytest.mark.parametrize("count", [3, LEAST_OF_A_KIND - 1])
def test_too_few_say_so(count: int) -> None:
    joints, labels, match, box, places = simulated_poses.serves(np.random.default_rng(1), count, -0.3)
    found = time_of_disguise_loss(
        joints, simulated_poses.TIMES_S, labels, groups=match, strata=box, places=places
    )
    assert found == TooFewServes(count, count)
    assert f"{count} lobs and {count} other serves" in disguise_words(found, ("lob", "lobs"), "Imogen")[0]


def test_serves_without_joints_do_not_count() -> None:
    joints, labels, match, box, places = simulated_poses.serves(np.random.default_rng(1), 24, -0.3)
    joints[np.flatnonzero(labels)[:5]] = np.nan
    found = time_of_disguise_loss(
        joints, simulated_poses.TIMES_S, labels, groups=match, strata=box, places=places
    )
    assert found == TooFewServes(19, 24)


def test_a_joint_seldom_seen_is_left_out_and_gaps_are_borne() -> None:
    rng = np.random.default_rng(8)
    joints, labels, match, box, places = simulated_poses.serves(rng, 24, -0.30)
    joints[:, :, 3] = np.nan
    joints[rng.random(joints.shape[:3]) < 0.05] = np.nan
    found = time_of_disguise_loss(
        joints, simulated_poses.TIMES_S, labels, groups=match, strata=box, places=places, shuffles=200
    )
    assert isinstance(found, DisguiseResult)
    assert found.tell_s is not None


@pytest.mark.parametrize(
    ("times", "labels", "said"),
    [
        ([0.0, -0.1, 0.1], 4, "must increase"),
        ([-0.1, 0.0], 4, "serves x moments"),
        ([-0.2, -0.1, 0.0], 3, "labels"),
    ],
)
def test_what_does_not_fit_is_told(times: list[float], labels: int, said: str) -> None:
    with pytest.raises(InputError, match=said):
        time_of_disguise_loss(np.zeros((4, 3, 17, 2)), times, np.zeros(labels, bool))


def test_held_out_answers_are_those_of_ridge_by_hand() -> None:
    rng = np.random.default_rng(2)
    seen, labels = rng.normal(size=(12, 5)), rng.random(12) < 0.5
    fold = cv_folds(np.repeat([0, 1, 2], 4))
    answers = hat_matrices(seen[None], fold)[0] @ labels
    scaled = seen / seen.std(axis=0)
    ridge = (scaled**2).sum() / 12 + 1e-12
    for item in range(3):
        known, asked = fold != item, fold == item
        middle = scaled[known].mean(axis=0)
        x, y = scaled[known] - middle, labels[known] - labels[known].mean()
        weights = np.linalg.solve(x.T @ x + ridge * np.eye(5), x.T @ y)
        assert answers[asked] == pytest.approx((scaled[asked] - middle) @ weights, abs=1e-9)


def test_areas_are_those_of_scikit_learn() -> None:
    from sklearn.metrics import roc_auc_score

    rng = np.random.default_rng(4)
    answers = np.round(rng.normal(size=(2, 15, 3)), 1)  # with ties
    labels = np.stack([rng.permutation(np.arange(15) < 6) for _ in range(3)], axis=1)
    found = auc(answers, labels)
    for t in range(2):
        for b in range(3):
            assert found[t, b] == pytest.approx(roc_auc_score(labels[:, b], answers[t, :, b]), abs=1e-12)


def test_movements_are_alike_whatever_place_size_and_side() -> None:
    item = simulated_poses.BODY[None, None] + 100.0
    turned = item * (-1.0, 1.0)
    swapped = turned[:, :, [0, 2, 1, 4, 3, 6, 5, 8, 7, 10, 9, 12, 11, 14, 13, 16, 15]]
    base = normalise_poses(item)
    assert normalise_poses(3.0 * item - 40.0) == pytest.approx(base)
    assert normalise_poses(swapped, [True]) == pytest.approx(base)


def test_a_file_of_joints_is_read_or_refused_in_words(tmp_path: Path) -> None:
    joints, labels, match, box, places = simulated_poses.serves(np.random.default_rng(8), 24, -0.30)
    held = {
        "joints": joints,
        "times_s": simulated_poses.TIMES_S,
        "of_kind": labels,
        "match": match,
        "box": box,
    }
    np.savez(tmp_path / "j.npz", **held, place=places)
    told = disguise_from_file(tmp_path / "j.npz", "lob", "Imogen")
    assert isinstance(told.found, DisguiseResult)
    np.savez(tmp_path / "k.npz", joints=joints)
    with pytest.raises(InputError, match="has no times_s and of_kind"):
        disguise_from_file(tmp_path / "k.npz", "lob", "Imogen")
    (tmp_path / "t.npz").write_text("hello")
    with pytest.raises(InputError, match="cannot be read"):
        disguise_from_file(tmp_path / "t.npz", "lob", "Imogen")
