from studwell.study.crack_findings import crack_findings


def texts(comparison, kind):
    return [finding.text for finding in crack_findings(comparison) if finding.kind == kind]


def test_the_setup_nearest_to_cracking_is_told_by_all_views(comparison):
    said = texts(comparison, "crack")[0]
    worst = max(comparison.results, key=lambda item: item.verdict.cracks.once[0].value or 0.0)
    assert said.startswith(worst.name)
    for view in ("critical distance", "fracture mechanics", "weakest link", "multiaxial cycle"):
        assert view in said
    assert "trust" in said


def test_missing_data_are_named_once_with_where_to_put_them(comparison):
    (said,) = texts(comparison, "caution")
    assert "boss crack (repeated)" in said and "no threshold" in said and "[material]" in said
    assert "[crack] cycles" in said
    assert "no fracture_toughness" not in said  # that of the demo's alloy is known


def test_a_flaw_is_told_with_its_life_or_what_it_would_need(cracked):
    said = texts(cracked, "crack")
    known, unknown = ([text for text in said[1:] if text.startswith(name)] for name in ("bottomed", "backed off"))
    assert len(known) == len(unknown) == 1
    assert "histories" in known[0] or "does not grow" in known[0]
    assert "a threshold above that range would keep it from growing" in unknown[0]
