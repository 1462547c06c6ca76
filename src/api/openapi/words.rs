//! What a field is called says what it is: a name that means the same in many shapes is explained here, once. What a
//! shape says of its own field goes before it.

use serde_json::{Map, Value, json};

/// Names of what stands there itself, and what each means wherever nothing else is said of it.
const TELLS: [(&str, &str); 42] = [
    ("account", "The account's code in the chart; a money account's is `money:` and its id."),
    ("acquired_on", "The day it was acquired."),
    ("agreed_on", "The day it was agreed."),
    ("budget", "What it may cost and what it did, by category."),
    ("category", "The line of the statement it stands on: of a cost its category, of an income its stream."),
    ("caution", "What this paper is, and who decides."),
    ("costs", "What it cost, one line a category."),
    ("date", "The day it happened, which is the day it counts on."),
    ("drill_down", "Where the records behind it are listed."),
    ("due_on", "The day by which it is due."),
    ("email", "Where mail reaches them."),
    ("evidence", "What shows the value, such as the price in a shop that day."),
    ("form", "The form whose lines these are."),
    ("from", "The first day counted; null for all that is recorded."),
    ("in_service_on", "The day from which it was ready to be used."),
    ("income", "What it earned, one line a stream."),
    ("items", "One each, in their order."),
    ("jurisdiction", "Whose tax law it follows."),
    ("kind", "Why the entry stands in the journal."),
    ("label", "What it is called there."),
    ("link", "Where more of it is read."),
    ("material", "What is on the shelf, by its name."),
    ("name", "What it is called."),
    ("note", "Whatever you want to remember of it; no figure depends on it."),
    ("notes", "What else is to be known of it, in sentences."),
    ("number", "The entry's number: they run from 1, without a gap."),
    ("part", "The part of the form."),
    ("phone", "Where they are called."),
    ("planned_on", "The day it is planned to be published on."),
    ("postings", "They sum to zero."),
    ("received_on", "The day it was received."),
    ("recorded_at", "When it was recorded."),
    ("recoveries", "What came back of the costs, one line each."),
    ("says", "What that means, in words."),
    ("side", "Which side of the statement it feeds."),
    ("tax_year", "The calendar year whose return it belongs to."),
    ("text", "What it is, in words."),
    ("title", "What it is called."),
    ("to", "The last day counted; null for all that is recorded."),
    ("what", "The goods."),
    ("word", "The word under whose address it was made."),
    ("year", "The calendar year of the return."),
];

/// Names of what is told by its id: the name says more than the shape of the id does.
const NAMES: [(&str, &str); 9] = [
    ("agency", "Who stands between, where somebody does."),
    ("episode", "The episode it belongs to."),
    ("id", "Its id in these books, by which others name it."),
    ("paid_from", "The money account that it is paid from."),
    ("paid_into", "The money account that it is paid into."),
    ("party", "Whom it was with."),
    ("project", "The project it belongs to."),
    ("shop", "In whose shop it is to be sold."),
    ("sponsor", "Who pays for it."),
];

/// Says of each field of the shape what it is, unless that is said already, there or by the shape that it points at.
pub fn explain(shape: &mut Value) {
    match shape {
        Value::Array(several) => several.iter_mut().for_each(explain),
        Value::Object(parts) => {
            let fields = parts.get_mut("properties").and_then(Value::as_object_mut);
            for (name, field) in fields.into_iter().flatten() {
                field.as_object_mut().into_iter().for_each(|field| explain_field(name, field));
            }
            parts.values_mut().for_each(explain);
        }
        _ => {}
    }
}

fn explain_field(name: &str, field: &mut Map<String, Value>) {
    lift(field);
    if field.contains_key("description") {
        return;
    }
    let of_its_own = (!points(field)).then(|| TELLS.iter()).into_iter().flatten();
    if let Some((_, meaning)) = of_its_own.chain(&NAMES).find(|(known, _)| *known == name) {
        field.insert("description".to_owned(), json!(meaning));
    }
}

/// Whether another shape says what the field is.
fn points(field: &Map<String, Value>) -> bool {
    let choices = field.get("oneOf").and_then(Value::as_array).into_iter().flatten();
    field.contains_key("$ref") || choices.clone().any(|one| one.get("$ref").is_some())
}

/// What is said of a field that may be null is said beside the shape it points at; it belongs to the field.
fn lift(field: &mut Map<String, Value>) {
    let choices = field.get_mut("oneOf").and_then(Value::as_array_mut).into_iter().flatten();
    let pointing = choices.filter(|one| one.get("$ref").is_some()).filter_map(Value::as_object_mut);
    let said: Vec<Value> = pointing.filter_map(|one| one.remove("description")).collect();
    if let Some(said) = said.into_iter().next() {
        field.entry("description").or_insert(said);
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    /// Every field of the shape, with its name, where it is.
    fn fields<'a>(place: &str, shape: &'a Value, found: &mut Vec<(String, &'a str, &'a Value)>) {
        for (name, field) in shape["properties"].as_object().into_iter().flatten() {
            found.push((format!("{place}.{name}"), name, field));
        }
        match shape {
            Value::Array(several) => several.iter().for_each(|one| fields(place, one, found)),
            Value::Object(parts) => {
                parts.iter().for_each(|(name, one)| fields(&format!("{place}.{name}"), one, found));
            }
            _ => {}
        }
    }

    #[test]
    fn every_shape_field_and_parameter_of_the_document_says_what_it_is() {
        let document = crate::api::document().unwrap();
        let schemas = document["components"]["schemas"].as_object().unwrap();
        let mut found = Vec::new();
        schemas.iter().for_each(|(name, shape)| fields(name, shape, &mut found));
        let unsaid = |field: &Value| field["description"].as_str().is_none_or(str::is_empty);
        let mut silent: Vec<&str> = found
            .iter()
            .filter(|(_, _, field)| unsaid(field) && !points(field.as_object().unwrap()))
            .map(|(place, _, _)| place.as_str())
            .collect();
        silent.extend(schemas.iter().filter(|(_, shape)| unsaid(shape)).map(|(name, _)| name.as_str()));
        let operations =
            document["paths"].as_object().unwrap().values().flat_map(|item| item.as_object().unwrap());
        for (_, operation) in operations {
            for one in operation["parameters"].as_array().into_iter().flatten() {
                if unsaid(one) && one.get("$ref").is_none() {
                    silent.push(one["name"].as_str().unwrap());
                }
            }
        }
        assert!(found.len() > 1_500 && silent.is_empty(), "{} fields; silent: {silent:#?}", found.len());
        // And no word is explained that nobody uses.
        let said: BTreeSet<_> = found
            .iter()
            .filter_map(|(_, name, field)| Some((*name, field["description"].as_str()?)))
            .collect();
        let unused: Vec<_> = TELLS.iter().chain(&NAMES).filter(|known| !said.contains(known)).collect();
        assert!(unused.is_empty(), "{unused:?}");
    }

    #[test]
    fn what_a_field_says_of_itself_goes_before_what_its_name_means() {
        let mut shape = json!({ "properties": {
            "note": { "type": "string" },
            "date": { "type": "string", "description": "The day the box was opened." },
            "kind": { "$ref": "#/components/schemas/DisposalKind" },
            "party": { "oneOf": [
                { "type": "null" },
                { "$ref": "#/components/schemas/PartyId", "description": "Who was visited." },
            ] },
            "shop": { "$ref": "#/components/schemas/PartyId" },
        } });
        explain(&mut shape);
        let says = |name: &str| shape["properties"][name]["description"].clone();
        assert!(says("note").as_str().unwrap().contains("no figure"));
        assert_eq!(says("date"), "The day the box was opened.");
        assert_eq!((says("kind"), says("party")), (Value::Null, json!("Who was visited.")));
        assert_eq!(says("shop"), "In whose shop it is to be sold.");
        assert_eq!(shape["properties"]["party"]["oneOf"][1].get("description"), None);
    }
}
