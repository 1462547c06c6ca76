use serde_json::json;

use super::*;
use crate::rules::parties::PartyLabels;
use crate::rules::refusal::Standing;

fn fields(value: Value) -> Fields {
    serde_json::from_value(value).unwrap()
}

fn timber() -> Labelled<PartyLabels> {
    let labels = json!({ "name": "Hollow Oak Timber", "email": "yard@hollow-oak.example" });
    Labelled { version: Version(3), labels: serde_json::from_value(labels).unwrap() }
}

/// RFC 7396, appendix A: its cases without objects or lists inside (from memory).
#[test]
fn a_merge_patch_sets_adds_and_takes_away() {
    for (original, patch, result) in [
        (json!({ "a": "b" }), json!({ "a": "c" }), json!({ "a": "c" })),
        (json!({ "a": "b" }), json!({ "b": "c" }), json!({ "a": "b", "b": "c" })),
        (json!({ "a": "b" }), json!({ "a": null }), json!({})),
        (json!({ "a": "b", "b": "c" }), json!({ "a": null }), json!({ "b": "c" })),
        (json!({ "e": null }), json!({ "a": 1 }), json!({ "e": null, "a": 1 })),
    ] {
        assert_eq!(merged(&fields(original), &fields(patch)), fields(result));
    }
}

#[test]
fn a_change_says_what_is_different_and_what_it_was() {
    let patch = fields(json!({ "name": " Hollow Oak ", "email": null, "phone": "555 0100" }));
    let revision = revise(&timber(), &[Version(3)], &patch).unwrap().unwrap();
    assert_eq!(revision.version, Version(4));
    assert_eq!(revision.changed, fields(json!({ "name": "Hollow Oak", "email": null, "phone": "555 0100" })));
    let before = json!({ "name": "Hollow Oak Timber", "email": "yard@hollow-oak.example", "phone": null });
    assert_eq!(revision.before, fields(before));
}

#[test]
fn what_changes_nothing_makes_no_version() {
    for patch in [json!({}), json!({ "name": "Hollow Oak Timber" }), json!({ "phone": null })] {
        assert!(revise(&timber(), &[Version(3)], &fields(patch)).unwrap().is_none());
    }
}

#[test]
fn only_who_has_seen_the_version_that_stands_changes_it() {
    let patch = fields(json!({ "phone": "555 0100" }));
    for stale in [&[][..], &[Version(2)], &[Version(4), Version(1)]] {
        let refused = revise(&timber(), stale, &patch).unwrap_err();
        assert_eq!(refused.standing(), Standing::Stale);
        assert!(refused.to_string().contains("version 3"), "{refused}");
    }
    assert!(revise(&timber(), &[Version(2), Version(3)], &patch).unwrap().is_some());
}

#[test]
fn a_name_is_not_emptied() {
    let refused = revise(&timber(), &[Version(3)], &fields(json!({ "name": "  " }))).unwrap_err();
    assert_eq!(refused.standing(), Standing::Invalid);
    assert_eq!(refused.findings().next().unwrap().pointer, "/name");
}

#[test]
fn the_last_version_is_not_passed() {
    let now = Labelled { version: Version(i32::MAX), ..timber() };
    let patch = fields(json!({ "phone": "555 0100" }));
    assert_eq!(revise(&now, &[now.version], &patch).unwrap_err().standing(), Standing::Conflict);
}

#[test]
fn each_thing_is_called_by_its_own_word_and_by_its_name_or_title() {
    let labels = fields(json!({ "name": "the name", "title": "the title", "note": "a note" }));
    for (thing, one, called, made) in [
        (LabelledThing::Party, "party", "the name", "the name"),
        (LabelledThing::Project, "project", "the name", "the name"),
        (LabelledThing::Episode, "episode", "the title", "the title"),
        (LabelledThing::Account, "account", "the name", "account opened: the name"),
        (LabelledThing::Tool, "tool", "the name", "the name"),
        (LabelledThing::Piece, "piece", "the name", "the name"),
        (LabelledThing::Deal, "deal", "the title", "the title"),
    ] {
        let stale = RevisionFinding::Stale { thing, version: Version(3) }.say();
        let said = format!(
            "the {one} has changed since you read it: it is at version 3 now, which If-Match does not name"
        );
        assert_eq!(stale.detail, said);
        assert_eq!(thing.title_among(&labels), Some(called), "{one}");
        assert_eq!(thing.made_in_words(called), made);
        assert_eq!(thing.title_among(&fields(json!({ "note": "a note" }))), None, "{one}");
    }
}

#[test]
fn what_only_records_of_its_own_word_make_is_shown_as_its_record() {
    for (word, thing) in [
        (Word::Parties, Some(LabelledThing::Party)),
        (Word::Projects, Some(LabelledThing::Project)),
        (Word::Episodes, Some(LabelledThing::Episode)),
        (Word::Accounts, Some(LabelledThing::Account)),
        (Word::Tools, None),
        (Word::Furniture, None),
        (Word::Deals, None),
    ] {
        assert_eq!(LabelledThing::shown_as_record(word), thing, "{word}");
    }
}

#[test]
fn a_thing_that_is_planned_for_no_day_has_none() {
    assert_eq!(timber().labels.planned_on(), None);
}
