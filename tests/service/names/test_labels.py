"""Labels of the trades against an expert's answers: ``labels.txt`` has each with its reason."""

from tests.service.names.labels import read_labels


def test_the_fixture_is_large_and_each_label_has_a_reason() -> None:
    labels = read_labels()
    assert len(labels) >= 400
    assert len({label.label for label in labels}) == len(labels)
    assert all(label.why for label in labels)
