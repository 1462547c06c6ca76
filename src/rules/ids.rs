//! One id type a thing, so that a lot's id can not be given where a tool's is asked.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

macro_rules! id_types {
    ($($(#[$note:meta])* $name:ident),+ $(,)?) => {$(
        $(#[$note])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
        #[serde(transparent)]
        #[schema(value_type = String, format = Uuid, example = "0192a1b2-0000-7000-8000-000000000001")]
        pub struct $name(pub Uuid);

        impl std::fmt::Display for $name {
            fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(out)
            }
        }
    )+};
}

id_types! {
    /// One business's set of books.
    BooksId,
    /// A token that opens a set of books.
    TokenId,
    /// Any record: the receipt, the sale, the trip.
    RecordId,
    /// A purse, a bank account, a card or a balance on a platform.
    MoneyAccountId,
    /// A person or company the books deal with.
    PartyId,
    /// A room or a piece that is worked on, over one episode or many.
    ProjectId,
    /// An episode of a project.
    EpisodeId,
    /// What a cost, an income, a fee or a recovery comes from.
    SourceId,
    /// Material of one purchase on the shelf.
    LotId,
    /// A tool that is used on many episodes.
    ToolId,
    /// A piece of furniture.
    PieceId,
    /// What was agreed with a sponsor.
    DealId,
    /// A receipt, a contract or a photograph that was kept.
    DocumentId,
    /// Something promised to a sponsor under a deal.
    PromiseId,
    /// Overhead that is spread together.
    OverheadPoolId,
}

/// Where new ids come from; the rules themselves draw no random numbers.
pub trait IdSource {
    fn next(&mut self) -> Uuid;
}
