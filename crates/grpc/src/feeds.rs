//! `CreateFeed`, `ListFeeds` and `RevokeFeed`.

use baycast_service::records::{FeedDraft, IssuedFeed};
use baycast_service::{Caller, Error, Service};

use crate::proto::{
    CreateFeedRequest, CreateFeedResponse, ListFeedsRequest, ListFeedsResponse, RevokeFeedRequest,
    RevokeFeedResponse,
};

/// Creates a feed address, whose token is in the answer and nowhere else.
pub async fn create_feed(
    service: &Service,
    caller: &Caller,
    request: CreateFeedRequest,
) -> Result<CreateFeedResponse, Error> {
    let CreateFeedRequest { farm, name } = request;
    let IssuedFeed { feed, token, path } = service.create_feed(caller, &farm, &FeedDraft { name }).await?;
    Ok(CreateFeedResponse { feed: Some(feed.into()), token, path })
}

/// A page of a farm's feed addresses.
pub async fn list_feeds(
    service: &Service,
    caller: &Caller,
    request: ListFeedsRequest,
) -> Result<ListFeedsResponse, Error> {
    let ListFeedsRequest { farm, page_size, page_token } = request;
    let page = service.list_feeds(caller, &farm, Some(page_size.into()), &page_token).await?;
    Ok(ListFeedsResponse {
        items: page.items.into_iter().map(Into::into).collect(),
        next_page_token: page.next_page_token.unwrap_or_default(),
    })
}

/// Revokes a feed address for good.
pub async fn revoke_feed(
    service: &Service,
    caller: &Caller,
    request: RevokeFeedRequest,
) -> Result<RevokeFeedResponse, Error> {
    let RevokeFeedRequest { farm, feed } = request;
    let revoked = service.revoke_feed(caller, &farm, &feed).await?;
    Ok(RevokeFeedResponse { feed: Some(revoked.into()) })
}
