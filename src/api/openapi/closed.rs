//! Closed shapes: an object of the document has the fields it names and no others, so that a field nobody described
//! is a fault that the contract's tests notice.

use utoipa::openapi::schema::{AdditionalProperties, AllOf, ArrayItems, Object};
use utoipa::openapi::{OpenApi, Ref, RefOr, Response, Schema};

type Named = Vec<(String, RefOr<Schema>)>;

/// Closes every object of the document's schemas and answers. An object that names no field stays open: it is a
/// record as it was sent, whose own schema is its request's.
pub fn close(document: &mut OpenApi) {
    let Some(components) = &mut document.components else { return };
    let named: Named =
        components.schemas.iter().map(|(name, schema)| (name.clone(), schema.clone())).collect();
    components.schemas.values_mut().for_each(|schema| close_schema(schema, &named));
    for item in document.paths.paths.values_mut() {
        for operation in [&mut item.get, &mut item.post, &mut item.patch, &mut item.put, &mut item.delete] {
            let Some(operation) = operation else { continue };
            operation.responses.responses.values_mut().for_each(|response| close_response(response, &named));
        }
    }
}

fn close_response(response: &mut RefOr<Response>, named: &Named) {
    let RefOr::T(response) = response else { return };
    for content in response.content.values_mut() {
        if let RefOr::T(content) = content
            && let Some(schema) = &mut content.schema
        {
            close_schema(schema, named);
        }
    }
}

fn close_schema(schema: &mut RefOr<Schema>, named: &Named) {
    let RefOr::T(open) = schema else { return };
    if let Schema::AllOf(all) = open
        && let Some(one) = as_one_object(all, named)
    {
        *open = Schema::Object(one);
    }
    match open {
        Schema::Object(object) => close_object(object, named),
        Schema::Array(array) => {
            if let ArrayItems::RefOrSchema(items) = &mut array.items {
                close_schema(items, named);
            }
        }
        Schema::OneOf(one) => one.items.iter_mut().for_each(|item| close_schema(item, named)),
        Schema::AnyOf(any) => any.items.iter_mut().for_each(|item| close_schema(item, named)),
        _ => {}
    }
}

fn close_object(object: &mut Object, named: &Named) {
    object.properties.values_mut().for_each(|field| close_schema(field, named));
    match object.additional_properties.as_deref_mut() {
        Some(AdditionalProperties::RefOr(values)) => close_schema(values, named),
        Some(AdditionalProperties::FreeForm(_)) => {}
        None if object.properties.is_empty() => {}
        None => object.additional_properties = Some(Box::new(AdditionalProperties::FreeForm(false))),
    }
}

/// A shape with another's fields laid into it, as one object: two closed halves would refuse each other's fields.
/// None where a part is not an object.
fn as_one_object(all: &AllOf, named: &Named) -> Option<Object> {
    let mut whole = Object::new();
    whole.schema_type = utoipa::openapi::schema::SchemaType::new(utoipa::openapi::schema::Type::Object);
    whole.description = all.description.clone();
    for part in &all.items {
        let part = object_of(part, named)?;
        whole.required.extend(part.required);
        whole.properties.extend(part.properties);
    }
    Some(whole)
}

fn object_of(schema: &RefOr<Schema>, named: &Named) -> Option<Object> {
    match schema {
        RefOr::T(Schema::Object(object)) => Some(object.clone()),
        RefOr::T(Schema::AllOf(all)) => as_one_object(all, named),
        RefOr::T(_) => None,
        RefOr::Ref(Ref { ref_location, .. }) => {
            let name = ref_location.strip_prefix("#/components/schemas/")?;
            named.iter().find(|(one, _)| one == name).and_then(|(_, found)| object_of(found, named))
        }
    }
}
