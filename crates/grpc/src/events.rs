//! `AppendEvents`, `GetEvent` and `ListEvents`.

use baycast_service::{Caller, Error, Service};

use crate::convert;
use crate::proto::{
    AppendEventsRequest, AppendEventsResponse, GetEventRequest, GetEventResponse, ListEventsRequest,
    ListEventsResponse,
};

/// Records entries; answered once they are on disk.
pub async fn append_events(
    service: &Service,
    caller: &Caller,
    request: AppendEventsRequest,
) -> Result<AppendEventsResponse, Error> {
    let AppendEventsRequest { farm, batch, entries, mode, request_id } = request;
    let append = convert::append(entries, mode)?;
    let key = (!request_id.is_empty()).then_some(request_id.as_str());
    let taken = service.append_events(caller, &farm, &batch, &append, key).await?;
    Ok(AppendEventsResponse { items: taken.into_iter().map(Into::into).collect() })
}

/// One recorded event.
pub async fn get_event(
    service: &Service,
    caller: &Caller,
    request: GetEventRequest,
) -> Result<GetEventResponse, Error> {
    let GetEventRequest { farm, batch, event } = request;
    let kept = service.get_event(caller, &farm, &batch, &event).await?;
    Ok(GetEventResponse { event: Some(kept.into()) })
}

/// A page of events, or those since one.
pub async fn list_events(
    service: &Service,
    caller: &Caller,
    request: ListEventsRequest,
) -> Result<ListEventsResponse, Error> {
    let ListEventsRequest { farm, batch, page_size, page_token, shown, since } = request;
    let shown = convert::said(shown, "shown")?;
    let page_size = Some(page_size.into());
    let page = if since.is_empty() {
        service.list_events(caller, &farm, &batch, shown, page_size, &page_token).await?
    } else {
        service.list_events_since(caller, &farm, &batch, shown, &since, page_size).await?
    };
    Ok(ListEventsResponse {
        items: page.items.into_iter().map(Into::into).collect(),
        next_page_token: page.next_page_token.unwrap_or_default(),
    })
}
