"""How well a machine that learns from the drawn cars themselves tells their causes: an upper anchor for the judgement.

cargo bench --bench calibration -- cases=200 features=FILE
python3 tests/calibration/anchor.py FILE [PARTS]

Needs numpy, pandas and scikit-learn. Gradient-boosted trees learn from all parts of the cases but one (of 2 unless said
otherwise) and are asked about that one, part after part; prints their scores beside those of the odds that the program
gave. They need about 200 cases a cause to learn from.
"""

import sys

import numpy
import pandas
from sklearn.ensemble import HistGradientBoostingClassifier
from sklearn.model_selection import StratifiedKFold

LEAST = 1e-9


def scores(odds, truth):
    own = odds[numpy.arange(len(truth)), truth]
    ranks = (odds > own[:, None]).sum(axis=1)
    loss = -numpy.log(numpy.maximum(own, LEAST)).mean()
    return (ranks == 0).mean(), (ranks < 3).mean(), loss


def main():
    table = pandas.read_csv(sys.argv[1])
    reported = [name for name in table if name.startswith("reported_")]
    even = [name for name in table if name.startswith("even_")]
    causes = [name.removeprefix("reported_") for name in reported]
    truth = table["cause"].map(causes.index).to_numpy()
    features = table.drop(columns=reported + even + ["cause", "visible"])
    parts = StratifiedKFold(int(sys.argv[2]) if len(sys.argv) > 2 else 2, shuffle=True, random_state=1)
    learned = numpy.zeros((len(table), len(causes)))
    for train, test in parts.split(features, truth):
        model = HistGradientBoostingClassifier(
            learning_rate=0.1, max_iter=60, max_bins=63, max_leaf_nodes=8, min_samples_leaf=15, l2_regularization=3.0,
            early_stopping=True, validation_fraction=0.15, random_state=1,
        )
        model.fit(features.iloc[train], truth[train])
        learned[numpy.ix_(test, model.classes_)] = model.predict_proba(features.iloc[test])
    print(f"each part held back in turn, {len(train)} cases to learn from")
    faulty_and_visible = (table["visible"].to_numpy() == 1) & (truth != causes.index("none_found"))
    print(f"{'':34}{'top-1':>8}{'top-3':>8}{'log loss':>10}")
    for name, odds in [
        ("learned", learned),
        ("reported", table[reported].to_numpy()),
        ("reported, with even priors", table[even].to_numpy()),
    ]:
        for which, rows in [("all", slice(None)), ("visible faults", faulty_and_visible)]:
            one, three, loss = scores(odds[rows], truth[rows])
            print(f"{name + ', ' + which:34}{one:8.3f}{three:8.3f}{loss:10.3f}")
    print("\ntop-1 by cause: learned, reported, reported with even priors")
    for index, cause in enumerate(causes):
        rows = truth == index
        if rows.any():
            found = [
                scores(odds[rows], truth[rows])[0]
                for odds in (learned, table[reported].to_numpy(), table[even].to_numpy())
            ]
            print(f"{cause:30}" + "".join(f"{share:8.2f}" for share in found))


if __name__ == "__main__":
    main()
