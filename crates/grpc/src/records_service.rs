//! The contract's service for records, each method in the file of its resource.

use baycast_service::Service;
use tonic::{Request, Response, Status};

use crate::proto::records_service_server::RecordsService;
use crate::{
    batch_estimates, batches, bays, bring_in, caller, deadline, deliveries, events, farm_feedstocks, farms,
    feeds, keys, proto, ready_volume, status, webhooks,
};

/// The service behind the contract.
pub struct Records(Service);

impl Records {
    /// Answers with `service`.
    pub fn new(service: Service) -> Self {
        Self(service)
    }
}

/// Methods that are all answered alike: who calls is settled first, then the resource's own function works within the
/// caller's deadline.
macro_rules! methods {
    ($($module:ident::$method:ident($request:ident) -> $response:ident;)+) => {
        #[tonic::async_trait]
        impl RecordsService for Records {
            $(async fn $method(
                &self,
                request: Request<proto::$request>,
            ) -> Result<Response<proto::$response>, Status> {
                let deadline = deadline::of(request.metadata())?;
                let work = async {
                    let caller = caller::of(&self.0, request.metadata()).await?;
                    $module::$method(&self.0, &caller, request.into_inner()).await
                };
                let answered = async { work.await.map_err(|error| status::of(&error)) };
                deadline.keep(answered).await.map(Response::new)
            })+
        }
    };
}

methods! {
    farms::create_farm(CreateFarmRequest) -> CreateFarmResponse;
    farms::get_farm(GetFarmRequest) -> GetFarmResponse;
    farms::list_farms(ListFarmsRequest) -> ListFarmsResponse;
    farms::update_farm(UpdateFarmRequest) -> UpdateFarmResponse;
    farms::archive_farm(ArchiveFarmRequest) -> ArchiveFarmResponse;
    bays::create_bay(CreateBayRequest) -> CreateBayResponse;
    bays::get_bay(GetBayRequest) -> GetBayResponse;
    bays::list_bays(ListBaysRequest) -> ListBaysResponse;
    bays::update_bay(UpdateBayRequest) -> UpdateBayResponse;
    bays::archive_bay(ArchiveBayRequest) -> ArchiveBayResponse;
    farm_feedstocks::create_farm_feedstock(CreateFarmFeedstockRequest) -> CreateFarmFeedstockResponse;
    farm_feedstocks::get_farm_feedstock(GetFarmFeedstockRequest) -> GetFarmFeedstockResponse;
    farm_feedstocks::list_farm_feedstocks(ListFarmFeedstocksRequest) -> ListFarmFeedstocksResponse;
    farm_feedstocks::update_farm_feedstock(UpdateFarmFeedstockRequest) -> UpdateFarmFeedstockResponse;
    farm_feedstocks::archive_farm_feedstock(ArchiveFarmFeedstockRequest) -> ArchiveFarmFeedstockResponse;
    batches::create_batch(CreateBatchRequest) -> CreateBatchResponse;
    batches::get_batch(GetBatchRequest) -> GetBatchResponse;
    batches::list_batches(ListBatchesRequest) -> ListBatchesResponse;
    batches::update_batch(UpdateBatchRequest) -> UpdateBatchResponse;
    batches::archive_batch(ArchiveBatchRequest) -> ArchiveBatchResponse;
    events::append_events(AppendEventsRequest) -> AppendEventsResponse;
    bring_in::bring_in_events(BringInEventsRequest) -> BringInEventsResponse;
    events::get_event(GetEventRequest) -> GetEventResponse;
    events::list_events(ListEventsRequest) -> ListEventsResponse;
    batch_estimates::estimate_batch(EstimateBatchRequest) -> EstimateBatchResponse;
    keys::create_key(CreateKeyRequest) -> CreateKeyResponse;
    keys::list_keys(ListKeysRequest) -> ListKeysResponse;
    keys::revoke_key(RevokeKeyRequest) -> RevokeKeyResponse;
    ready_volume::sum_ready_volume(SumReadyVolumeRequest) -> SumReadyVolumeResponse;
    feeds::create_feed(CreateFeedRequest) -> CreateFeedResponse;
    feeds::list_feeds(ListFeedsRequest) -> ListFeedsResponse;
    feeds::revoke_feed(RevokeFeedRequest) -> RevokeFeedResponse;
    webhooks::create_webhook(CreateWebhookRequest) -> CreateWebhookResponse;
    webhooks::get_webhook(GetWebhookRequest) -> GetWebhookResponse;
    webhooks::list_webhooks(ListWebhooksRequest) -> ListWebhooksResponse;
    webhooks::update_webhook(UpdateWebhookRequest) -> UpdateWebhookResponse;
    webhooks::delete_webhook(DeleteWebhookRequest) -> DeleteWebhookResponse;
    webhooks::rotate_webhook_secret(RotateWebhookSecretRequest) -> RotateWebhookSecretResponse;
    webhooks::test_webhook(TestWebhookRequest) -> TestWebhookResponse;
    deliveries::list_deliveries(ListDeliveriesRequest) -> ListDeliveriesResponse;
    deliveries::get_delivery(GetDeliveryRequest) -> GetDeliveryResponse;
    deliveries::replay_delivery(ReplayDeliveryRequest) -> ReplayDeliveryResponse;
    deliveries::replay_deliveries(ReplayDeliveriesRequest) -> ReplayDeliveriesResponse;
}
