//! Batches: up to a thousand records of one word in one request, all of them or none.

use std::borrow::Cow;

use serde::{Deserialize, Serialize};
use utoipa::openapi::schema::{AdditionalProperties, ArrayBuilder, ObjectBuilder};
use utoipa::openapi::{Ref, RefOr, Schema};
use utoipa::{PartialSchema, ToSchema};

use super::answer::RecordedBody;
use crate::store::error::StoreError;
use crate::store::recording::Recorded;

/// Records to make, in their order.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Batch<T> {
    pub items: Vec<T>,
}

/// The most that one batch takes.
const MOST: usize = 1000;

/// Written by hand, because the derived schema of a generic type goes under one name for all of them.
impl<T: ToSchema> PartialSchema for Batch<T> {
    fn schema() -> RefOr<Schema> {
        let items = ArrayBuilder::new()
            .items(Ref::from_schema_name(T::name()))
            .min_items(Some(1))
            .max_items(Some(MOST));
        ObjectBuilder::new()
            .description(Some("Records to make, in their order; all are made or none."))
            .property("items", items)
            .required("items")
            .additional_properties(Some(AdditionalProperties::FreeForm(false)))
            .into()
    }
}

impl<T: ToSchema> ToSchema for Batch<T> {
    fn name() -> Cow<'static, str> {
        format!("{}Batch", T::name()).into()
    }

    fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
        schemas.push((T::name().into_owned(), T::schema()));
        T::schemas(schemas);
    }
}

/// What was recorded, in the order it was asked for.
#[derive(Debug, Serialize, ToSchema)]
pub struct BatchRecordedBody {
    #[schema(min_items = 1, max_items = 1000)]
    pub items: Vec<RecordedBody>,
}

/// The answer to a batch, as it is kept under its key.
/// # Errors
/// [`StoreError::Json`].
pub fn render(all: &[Recorded]) -> Result<Vec<u8>, StoreError> {
    Ok(serde_json::to_vec(&BatchRecordedBody { items: all.iter().map(RecordedBody::from).collect() })?)
}

/// What makes a record of a word: the same decision under the word's address, for one, and under `/batch`, for many.
macro_rules! recorded {
    (
        $(#[$says:meta])* $tag:literal,
        $one:ident $one_path:literal, $many:ident $many_path:literal,
        $new:ident, $batch:ident, $decide:expr
    ) => {
        $(#[$says])*
        #[utoipa::path(tag = $tag, request_body = $new)]
        #[post($one_path)]
        pub async fn $one(
            door: crate::api::door::Door<crate::api::door::Records>,
            body: crate::api::checked::Checked<$new>,
        ) -> crate::api::answer::Answer {
            door.record(body, $decide).await
        }

        type $batch = crate::api::batch::Batch<$new>;

        /// The same for up to a thousand at once: all are recorded, in their order, or none.
        #[utoipa::path(tag = $tag, request_body = $batch,
            params(("dry_run" = Option<bool>, Query,
                description = "true shows what would be written, and writes nothing")), responses(
            (status = 201, description = "All recorded", body = crate::api::batch::BatchRecordedBody),
            (status = 200, description = "A dry run: shown, nothing written",
                body = crate::api::batch::BatchRecordedBody)
        ))]
        #[post($many_path)]
        pub async fn $many(
            door: crate::api::door::Door<crate::api::door::Records>,
            body: crate::api::checked::Checked<$batch>,
        ) -> crate::api::answer::Answer {
            door.record_all(body, $decide).await
        }
    };
}
pub(super) use recorded;
