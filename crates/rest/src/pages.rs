//! Lists as they are answered, one page type each, since each has a name in the contract.

use baycast_model::feedstock::Feedstock;
use baycast_service::Page;
use baycast_service::records::{
    ApiKey, Batch, Delivery, Farm, FarmBay, FarmFeedstock, Feed, RecordedEvent, Webhook,
};
use serde::Serialize;
use utoipa::ToSchema;

/// Page types with their items.
macro_rules! pages {
    ($($(#[$doc:meta])* $page:ident of $item:ident;)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Serialize, ToSchema)]
        pub struct $page {
            /// The items, in the order of the list.
            items: Vec<$item>,
            /// Where the next page starts; absent on the last one.
            #[serde(skip_serializing_if = "Option::is_none")]
            next_page_token: Option<String>,
        }

        impl From<Page<$item>> for $page {
            fn from(Page { items, next_page_token }: Page<$item>) -> Self {
                Self { items, next_page_token }
            }
        }
    )*};
}

pages! {
    /// One page of the default feedstock table.
    FeedstockPage of Feedstock;
    /// One page of farms.
    FarmPage of Farm;
    /// One page of bays.
    FarmBayPage of FarmBay;
    /// One page of a farm's own feedstocks.
    FarmFeedstockPage of FarmFeedstock;
    /// One page of batches.
    BatchPage of Batch;
    /// One page of events.
    RecordedEventPage of RecordedEvent;
    /// One page of feed addresses.
    FeedPage of Feed;
    /// One page of keys.
    ApiKeyPage of ApiKey;
    /// One page of webhooks.
    WebhookPage of Webhook;
    /// One page of deliveries.
    DeliveryPage of Delivery;
}
