"""How well a machine that learns from the drawn cars themselves tells their causes: an upper anchor for the judgement.

cargo bench --bench calibration -- cases=200 features=FILE
python3 tests/calibration/anchor.py FILE

Needs numpy, pandas and scikit-learn. Trains gradient-boosted trees on half of the cases and prints, on the other half,
their scores beside those of the odds that the program told.
"""

import sys

import numpy
import pandas
from sklearn.ensemble import HistGradientBoostingClassifier
from sklearn.model_selection import train_test_split

LEAST = 1e-9


def scores(odds, truth):
    own = odds[numpy.arange(len(truth)), truth]
    ranks = (odds > own[:, None]).sum(axis=1)
    loss = -numpy.log(numpy.maximum(own, LEAST)).mean()
    return (ranks == 0).mean(), (ranks < 3).mean(), loss


def main():
    table = pandas.read_csv(sys.argv[1])
    told = [name for name in table if name.startswith("told_")]
    even = [name for name in table if name.startswith("even_")]
    causes = [name.removeprefix("told_") for name in told]
    truth = table["cause"].map(causes.index).to_numpy()
    features = table.drop(columns=told + even + ["cause", "visible"])
    train, test = train_test_split(numpy.arange(len(table)), test_size=0.5, random_state=1, stratify=truth)
    model = HistGradientBoostingClassifier(
        learning_rate=0.05, max_iter=150, max_leaf_nodes=12, min_samples_leaf=15, l2_regularization=3.0,
        early_stopping=True, validation_fraction=0.15, random_state=1,
    )
    model.fit(features.iloc[train], truth[train])
    learned = numpy.zeros((len(test), len(causes)))
    learned[:, model.classes_] = model.predict_proba(features.iloc[test])
    faulty_and_visible = (table["visible"].to_numpy()[test] == 1) & (truth[test] != causes.index("none_found"))
    print(f"{len(train)} cases to learn from, {len(test)} held back, {model.n_iter_} rounds")
    print(f"{'':34}{'top-1':>8}{'top-3':>8}{'log loss':>10}")
    for name, odds in [
        ("learned", learned),
        ("told", table[told].to_numpy()[test]),
        ("told, with even priors", table[even].to_numpy()[test]),
    ]:
        for which, rows in [("all", slice(None)), ("visible faults", faulty_and_visible)]:
            one, three, loss = scores(odds[rows], truth[test][rows])
            print(f"{name + ', ' + which:34}{one:8.3f}{three:8.3f}{loss:10.3f}")
    print("\ntop-1 by cause: learned, told, told with even priors")
    for index, cause in enumerate(causes):
        rows = truth[test] == index
        if rows.any():
            found = [
                scores(odds[rows], truth[test][rows])[0]
                for odds in (learned, table[told].to_numpy()[test], table[even].to_numpy()[test])
            ]
            print(f"{cause:30}" + "".join(f"{share:8.2f}" for share in found))


if __name__ == "__main__":
    main()
