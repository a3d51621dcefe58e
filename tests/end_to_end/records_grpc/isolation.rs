//! Every method with keys that must not open it.

use std::collections::BTreeSet;

use baycast_grpc::proto::{
    Amount, ArchiveBatchRequest, ArchiveBayRequest, ArchiveFarmFeedstockRequest, ArchiveFarmRequest,
    ArchiveState, BatchEvent, BringInEventsRequest, CompostWanted, CreateBatchRequest, CreateBayRequest,
    CreateFarmFeedstockRequest, CreateFarmRequest, CreateFeedRequest, CreateKeyRequest, CreateWebhookRequest,
    DESCRIPTORS, DeleteSeasonRequest, DeleteWebhookRequest, EstimateBatchRequest, EstimateMaturityRequest,
    Farm, FarmNeed, FarmSeason, FindFarmRequirementRequest, FindRequirementRequest, GetBatchRequest,
    GetBayRequest, GetDeliveryRequest, GetEventRequest, GetFarmFeedstockRequest, GetFarmRequest,
    GetFeedstockRequest, GetPlanRequest, GetReadinessRequest, GetSeasonRequest, GetWebhookRequest, Inflow,
    Ingredient, KeepSeasonRequest, KeyReach, KeyScope, ListBatchesRequest, ListBaysRequest,
    ListDeliveriesRequest, ListEventsRequest, ListFarmFeedstocksRequest, ListFarmsRequest, ListFeedsRequest,
    ListFeedstocksRequest, ListKeysRequest, ListReadinessChangesRequest, ListWebhooksRequest, OnHand,
    PlanFarmRequest, PlanSeasonRequest, ReplayDeliveriesRequest, ReplayDeliveryRequest, RevokeFeedRequest,
    RevokeKeyRequest, RotateWebhookSecretRequest, StreamEstimatesRequest, SuggestFarmRecipeRequest,
    SuggestRecipeRequest, SumReadyVolumeRequest, TestWebhookRequest, UpdateBatchRequest, UpdateBayRequest,
    UpdateFarmFeedstockRequest, UpdateFarmRequest, UpdateWebhookRequest, Use, WatchReadinessRequest, Webhook,
};
use futures::stream;
use prost::Message;
use prost_types::FileDescriptorSet;
use tonic::{Code, Status};

use super::yard::{
    Client, MaturityClient, PlanClient, Yard, append, batch, bay, farm, feedstock, plant, reading, webhook,
};
use crate::databases::Database;

/// What a walk calls with. The names of two targets are equally long, so that what is told of one is told of the other
/// in as many bytes.
#[derive(Clone, Copy)]
struct Target<'a> {
    farm: &'a str,
    bay: &'a str,
    feedstock: &'a str,
    batch: &'a str,
    event: &'a str,
    key: &'a str,
    feed: &'a str,
    webhook: &'a str,
    delivery: &'a str,
}

/// A method's name and how it was answered.
type Told = (&'static str, Result<(), Status>);

/// Methods on a farm that are not of the service for records.
const READINESS: [&str; 3] = ["getreadiness", "listreadinesschanges", "watchreadiness"];
const PLANS: [&str; 7] = [
    "suggestfarmrecipe",
    "findfarmrequirement",
    "planfarm",
    "keepseason",
    "getseason",
    "getplan",
    "deleteseason",
];

/// A client of each service, with the same key.
struct Clients {
    records: Client,
    maturity: MaturityClient,
    plans: PlanClient,
}

impl Clients {
    async fn of(yard: &Yard, key: Option<&str>) -> Self {
        Self {
            records: yard.client(key).await,
            maturity: yard.maturity(key).await,
            plans: yard.plans(key).await,
        }
    }
}

/// What is on hand on a farm.
fn held(target: Target<'_>) -> OnHand {
    let most = Some(Amount { mass_kg: Some(300.0), ..Default::default() });
    let ingredient = Ingredient { feedstock: target.feedstock.to_owned(), most, ..Default::default() };
    OnHand { ingredients: vec![ingredient], ..Default::default() }
}

/// Calls every method on a farm of the service for plans.
async fn walk_plans(plans: &mut PlanClient, target: Target<'_>) -> [Told; 7] {
    let farm_id = || target.farm.to_owned();
    let asked = SuggestFarmRecipeRequest { farm: farm_id(), on_hand: Some(held(target)) };
    let recipe = ("suggest_farm_recipe", plans.suggest_farm_recipe(asked).await.map(drop));
    let wanted = CompostWanted {
        r#use: Use::Mulch.into(),
        volume_m3: Some(0.2),
        by: "2027-06-01".to_owned(),
        earliest_start: Some("2027-04-01".to_owned()),
        ..Default::default()
    };
    let need = FarmNeed { bay: target.bay.to_owned(), wanted: Some(wanted), on_hand: Some(held(target)) };
    let asked = FindFarmRequirementRequest { farm: farm_id(), need: Some(need) };
    let requirement = ("find_farm_requirement", plans.find_farm_requirement(asked).await.map(drop));
    let planned = few_weeks(target.feedstock, Some("2026-05-01"));
    let asked = PlanFarmRequest { farm: farm_id(), season: Some(planned) };
    let plan = ("plan_farm", plans.plan_farm(asked).await.map(drop));
    // The first version was kept before the walk.
    let (season, etag) = (Some(few_weeks(target.feedstock, None)), "1".to_owned());
    let asked = KeepSeasonRequest { farm: farm_id(), season, etag };
    let kept = ("keep_season", plans.keep_season(asked).await.map(drop));
    let season = ("get_season", plans.get_season(GetSeasonRequest { farm: farm_id() }).await.map(drop));
    let asked = GetPlanRequest { farm: farm_id(), held_etag: String::new() };
    let its_plan = ("get_plan", plans.get_plan(asked).await.map(drop));
    let asked = DeleteSeasonRequest { farm: farm_id(), etag: "2".to_owned() };
    [
        recipe,
        requirement,
        plan,
        kept,
        season,
        its_plan,
        ("delete_season", plans.delete_season(asked).await.map(drop)),
    ]
}

/// A season on a farm that is planned in no time.
fn few_weeks(feedstock: &str, from: Option<&str>) -> FarmSeason {
    let inflow = Inflow { feedstock: feedstock.to_owned(), mass_kg_week: Some(30.0), ..Default::default() };
    FarmSeason { from: from.map(str::to_owned), weeks: Some(4), inflows: vec![inflow], ..Default::default() }
}

/// Calls every method once, changing first what the later ones read; each call is good for a key that may make it.
async fn walk(clients: &mut Clients, target: Target<'_>) -> Vec<Told> {
    let Clients { records: client, maturity, plans } = clients;
    let farm_id = || target.farm.to_owned();
    let (etag, later) = ("1".to_owned(), "2".to_owned());
    let active = i32::from(ArchiveState::Active);
    let mut told = Vec::new();
    macro_rules! call {
        ($method:ident($request:expr)) => {
            told.push((stringify!($method), client.$method($request).await.map(|_| ())));
        };
    }
    call!(create_farm(CreateFarmRequest { farm: Some(farm(&format!("{}-new", target.farm))) }));
    call!(get_farm(GetFarmRequest { farm: farm_id() }));
    call!(list_farms(ListFarmsRequest::default()));
    let changed = Farm { etag: etag.clone(), ..farm(target.farm) };
    call!(update_farm(UpdateFarmRequest { farm: Some(changed), update_mask: None }));
    call!(archive_farm(ArchiveFarmRequest { farm: farm_id(), etag: later.clone(), state: active }));

    call!(create_bay(CreateBayRequest { farm: farm_id(), bay: Some(bay("new")) }));
    call!(get_bay(GetBayRequest { farm: farm_id(), bay: target.bay.to_owned() }));
    call!(list_bays(ListBaysRequest { farm: farm_id(), ..Default::default() }));
    let mut changed = bay(target.bay);
    changed.etag.clone_from(&etag);
    call!(update_bay(UpdateBayRequest { farm: farm_id(), bay: Some(changed), update_mask: None }));
    let name = target.bay.to_owned();
    call!(archive_bay(ArchiveBayRequest { farm: farm_id(), bay: name, etag: later.clone(), state: active }));

    let new = Some(feedstock("new"));
    call!(create_farm_feedstock(CreateFarmFeedstockRequest { farm: farm_id(), feedstock: new }));
    let name = target.feedstock.to_owned();
    call!(get_farm_feedstock(GetFarmFeedstockRequest { farm: farm_id(), feedstock: name }));
    call!(list_farm_feedstocks(ListFarmFeedstocksRequest { farm: farm_id(), ..Default::default() }));
    let mut changed = feedstock(target.feedstock);
    changed.etag.clone_from(&etag);
    call!(update_farm_feedstock(UpdateFarmFeedstockRequest {
        farm: farm_id(),
        feedstock: Some(changed),
        update_mask: None
    }));
    call!(archive_farm_feedstock(ArchiveFarmFeedstockRequest {
        farm: farm_id(),
        feedstock: target.feedstock.to_owned(),
        etag: later.clone(),
        state: active
    }));

    call!(create_batch(CreateBatchRequest { farm: farm_id(), batch: Some(batch("new", target.bay)) }));
    let name = || target.batch.to_owned();
    call!(get_batch(GetBatchRequest { farm: farm_id(), batch: name() }));
    call!(list_batches(ListBatchesRequest { farm: farm_id(), ..Default::default() }));
    let mut changed = batch(target.batch, target.bay);
    changed.etag = etag;
    call!(update_batch(UpdateBatchRequest { farm: farm_id(), batch: Some(changed), update_mask: None }));
    call!(archive_batch(ArchiveBatchRequest { farm: farm_id(), batch: name(), etag: later, state: active }));

    call!(append_events(append(target.farm, target.batch, vec![reading(3, 44.0)])));
    let own = BatchEvent { batch: name(), event: Some(reading(4, 43.0)) };
    call!(bring_in_events(BringInEventsRequest { farm: farm_id(), events: vec![own], ..Default::default() }));
    let event = target.event.to_owned();
    call!(get_event(GetEventRequest { farm: farm_id(), batch: name(), event }));
    call!(list_events(ListEventsRequest { farm: farm_id(), batch: name(), ..Default::default() }));
    call!(estimate_batch(EstimateBatchRequest { farm: farm_id(), batch: name(), ..Default::default() }));

    told.extend(walk_plans(plans, target).await);

    let told_of = GetReadinessRequest { farm: farm_id() };
    told.push(("get_readiness", maturity.get_readiness(told_of).await.map(drop)));
    let changes = ListReadinessChangesRequest { farm: farm_id(), ..Default::default() };
    told.push(("list_readiness_changes", maturity.list_readiness_changes(changes).await.map(drop)));
    let watched = WatchReadinessRequest { farm: farm_id(), resume_after: None };
    told.push(("watch_readiness", maturity.watch_readiness(watched).await.map(drop)));
    let by = Some("2026-10-01".to_owned());
    call!(sum_ready_volume(SumReadyVolumeRequest { farm: farm_id(), r#use: Use::BedDressing.into(), by }));
    call!(create_feed(CreateFeedRequest { farm: farm_id(), name: "new".to_owned() }));
    call!(list_feeds(ListFeedsRequest { farm: farm_id(), ..Default::default() }));
    call!(revoke_feed(RevokeFeedRequest { farm: farm_id(), feed: target.feed.to_owned() }));

    let (scope, reach) = (KeyScope::Read.into(), KeyReach::All.into());
    call!(create_key(CreateKeyRequest { name: String::new(), scope, reach, farms: Vec::new() }));
    call!(list_keys(ListKeysRequest::default()));
    call!(revoke_key(RevokeKeyRequest { key: target.key.to_owned() }));

    let hook = || target.webhook.to_owned();
    call!(create_webhook(CreateWebhookRequest { farm: farm_id(), webhook: Some(webhook("")) }));
    call!(get_webhook(GetWebhookRequest { farm: farm_id(), webhook: hook() }));
    call!(list_webhooks(ListWebhooksRequest { farm: farm_id(), ..Default::default() }));
    let changed = Webhook { etag: "1".to_owned(), moved_days: Some(9), ..webhook(target.webhook) };
    call!(update_webhook(UpdateWebhookRequest {
        farm: farm_id(),
        webhook: Some(changed),
        update_mask: None
    }));
    let overlap_hours = Some(0);
    call!(rotate_webhook_secret(RotateWebhookSecretRequest {
        farm: farm_id(),
        webhook: hook(),
        overlap_hours
    }));
    call!(test_webhook(TestWebhookRequest { farm: farm_id(), webhook: hook() }));
    let delivery = || target.delivery.to_owned();
    call!(list_deliveries(ListDeliveriesRequest { farm: farm_id(), webhook: hook(), ..Default::default() }));
    call!(get_delivery(GetDeliveryRequest { farm: farm_id(), webhook: hook(), delivery: delivery() }));
    call!(replay_delivery(ReplayDeliveryRequest { farm: farm_id(), webhook: hook(), delivery: delivery() }));
    call!(replay_deliveries(ReplayDeliveriesRequest { farm: farm_id(), webhook: hook() }));
    let etag = "3".to_owned();
    call!(delete_webhook(DeleteWebhookRequest { farm: farm_id(), webhook: hook(), etag }));
    told
}

/// The methods of one of the contract's services.
fn methods(service: &str) -> BTreeSet<String> {
    let files = FileDescriptorSet::decode(DESCRIPTORS).expect("the descriptors can be read").file;
    let services = files.iter().flat_map(|file| &file.service);
    let records = services.filter(|own| own.name() == service);
    records.flat_map(|service| &service.method).map(|method| method.name().to_lowercase()).collect()
}

/// Names of all methods on a farm or on keys.
fn every() -> BTreeSet<String> {
    let elsewhere = READINESS.into_iter().chain(PLANS).map(str::to_owned);
    methods("RecordsService").into_iter().chain(elsewhere).collect()
}

/// Code, message and details of each answer, with `name` as every target's.
fn shown(told: &[Told], name: &str) -> Vec<String> {
    let shown = told.iter().map(|(method, answer)| match answer {
        Ok(()) => format!("{method}: answered"),
        Err(status) => {
            let details = String::from_utf8_lossy(status.details());
            format!("{method}: {:?} {} {details}", status.code(), status.message()).replace(name, "NAME")
        }
    });
    shown.collect()
}

fn code(told: &Told) -> Code {
    told.1.as_ref().err().map_or(Code::Ok, Status::code)
}

/// Everything on a farm that a call could change.
async fn state(admin: &mut Client, plans: &mut PlanClient, farm: &str) -> String {
    let request = GetFarmRequest { farm: farm.to_owned() };
    let own = admin.get_farm(request).await.expect("the farm").into_inner();
    let request = ListBaysRequest { farm: farm.to_owned(), ..Default::default() };
    let bays = admin.list_bays(request).await.expect("bays").into_inner();
    let request = ListFarmFeedstocksRequest { farm: farm.to_owned(), ..Default::default() };
    let feedstocks = admin.list_farm_feedstocks(request).await.expect("feedstocks").into_inner();
    let request = ListBatchesRequest { farm: farm.to_owned(), ..Default::default() };
    let batches = admin.list_batches(request).await.expect("batches").into_inner();
    let request = ListFarmsRequest::default();
    let farms = admin.list_farms(request).await.expect("farms").into_inner().items.len();
    let keys = admin.list_keys(ListKeysRequest::default()).await.expect("keys").into_inner().items;
    let keys: Vec<_> = keys.into_iter().map(|key| (key.id, key.revoked_at)).collect();
    let request = ListFeedsRequest { farm: farm.to_owned(), ..Default::default() };
    let feeds = admin.list_feeds(request).await.expect("feed addresses").into_inner();
    let request = ListWebhooksRequest { farm: farm.to_owned(), ..Default::default() };
    let webhooks = admin.list_webhooks(request).await.expect("webhooks").into_inner();
    let season = plans.get_season(GetSeasonRequest { farm: farm.to_owned() }).await;
    let season = season.map(tonic::Response::into_inner).ok();
    format!("{own:?} {bays:?} {feedstocks:?} {batches:?} {farms} {keys:?} {feeds:?} {webhooks:?} {season:?}")
}

/// Keeps the first season of a farm; the client that it was kept with.
async fn sown(yard: &Yard, key: &str, farm: &str) -> PlanClient {
    let mut plans = yard.plans(Some(key)).await;
    let (season, etag) = (Some(few_weeks("bines", None)), String::new());
    let kept = KeepSeasonRequest { farm: farm.to_owned(), season, etag };
    plans.keep_season(kept).await.expect("a season");
    plans
}

/// Adds a webhook to a farm and a message for it; their ids.
async fn hooked(admin: &mut Client, farm: &str) -> (String, String) {
    let request = CreateWebhookRequest { farm: farm.to_owned(), webhook: Some(webhook("")) };
    let made = admin.create_webhook(request).await.expect("a webhook").into_inner().issued;
    let hook = made.and_then(|issued| issued.webhook).expect("it is there").id;
    let request = TestWebhookRequest { farm: farm.to_owned(), webhook: hook.clone() };
    let put = admin.test_webhook(request).await.expect("a message").into_inner();
    (hook, put.delivery.expect("it is there").id)
}

pub async fn no_key_that_must_not_opens_anything_or_tells_what_is_there(database: Database) {
    let yard = Yard::on(database);
    let admin_key = yard.keys(&["create", "boss", "--scope", "admin", "--all-farms"]);
    let mut admin = yard.client(Some(&admin_key)).await;
    let event = plant(&mut admin, "theirs").await;
    plant(&mut admin, "myfarm").await;
    let other_farm = yard.keys(&["create", "other", "--scope", "admin", "--farm", "myfarm"]);
    let reader = yard.keys(&["create", "reader", "--scope", "read", "--farm", "theirs"]);
    let revoked = yard.keys(&["create", "gone", "--scope", "admin", "--all-farms"]);
    let listed = yard.keys(&["list"]);
    let id = |name: &str| {
        let line = listed.lines().find(|line| line.split('\t').nth(1) == Some(name)).expect("the key");
        line.split('\t').next().expect("an id").to_owned()
    };
    yard.keys(&["revoke", &id("gone")]);
    let key = id("reader");
    let draft = CreateFeedRequest { farm: "theirs".to_owned(), name: "shed".to_owned() };
    let feed = admin.create_feed(draft).await.expect("a feed address").into_inner().feed.expect("it").id;
    let (hook, delivery) = hooked(&mut admin, "theirs").await;
    let mut plans = sown(&yard, &admin_key, "theirs").await;
    let there = Target {
        farm: "theirs",
        bay: "east",
        feedstock: "bines",
        batch: "heap",
        event: &event,
        key: &key,
        feed: &feed,
        webhook: &hook,
        delivery: &delivery,
    };
    let no_event = event.replace(&event[event.len() - 6..], "ffffff");
    let absent = Target {
        bay: "west",
        feedstock: "straw",
        batch: "pile",
        event: &no_event,
        key: "key_0123456789abcdef",
        feed: "feed_0123456789abcdef",
        webhook: "wh_0123456789abcdef",
        delivery: &no_event,
        ..there
    };
    let nowhere = Target { farm: "nobody", ..absent };
    let before = state(&mut admin, &mut plans, "theirs").await;

    let none = walk(&mut Clients::of(&yard, None).await, there).await;
    let walked: BTreeSet<_> = none.iter().map(|(method, _)| method.replace('_', "")).collect();
    assert_eq!(walked, every(), "the walk calls every method there is");
    assert_eq!(walked.len(), none.len());
    for told in &none {
        assert_eq!(code(told), Code::Unauthenticated, "{told:?}");
    }
    let expected = shown(&none, "theirs");
    for key in [None, Some(revoked.as_str()), Some("bck_unknown"), Some("")] {
        let mut client = Clients::of(&yard, key).await;
        for target in [there, absent, nowhere] {
            assert_eq!(shown(&walk(&mut client, target).await, target.farm), expected, "{key:?}");
        }
    }

    let mut client = Clients::of(&yard, Some(&other_farm)).await;
    let told = walk(&mut client, there).await;
    for one in &told {
        let expected = match one.0 {
            "list_farms" => Code::Ok,
            "create_farm" | "create_key" | "list_keys" | "revoke_key" => Code::PermissionDenied,
            _ => Code::NotFound,
        };
        assert_eq!(code(one), expected, "{one:?}");
    }
    for target in [absent, nowhere] {
        let others = walk(&mut client, target).await;
        assert_eq!(shown(&others, target.farm), shown(&told, "theirs"));
    }
    let seen =
        client.records.list_farms(ListFarmsRequest::default()).await.expect("farms").into_inner().items;
    assert_eq!(seen.iter().map(|farm| farm.id.as_str()).collect::<Vec<_>>(), ["myfarm"]);
    // A name that is taken is told to nobody who may not create.
    for name in ["theirs", "nobody"] {
        let refused = client.records.create_farm(CreateFarmRequest { farm: Some(farm(name)) }).await;
        assert_eq!(refused.expect_err("not this key").code(), Code::PermissionDenied, "{name}");
    }

    let mut client = Clients::of(&yard, Some(&reader)).await;
    let told = walk(&mut client, there).await;
    for one in &told {
        let reads = ["get_", "list_", "estimate_batch", "sum_", "watch_", "suggest_", "find_", "plan_"]
            .iter()
            .any(|name| one.0.starts_with(name));
        let administers = one.0 == "list_keys" || one.0.contains("webhook") || one.0.contains("deliver");
        let expected = if reads && !administers { Code::Ok } else { Code::PermissionDenied };
        assert_eq!(code(one), expected, "{one:?}");
    }
    let refused = |told: &[Told]| -> Vec<String> {
        shown(told, "theirs").into_iter().filter(|line| line.contains("PermissionDenied")).collect()
    };
    assert_eq!(refused(&walk(&mut client, absent).await), refused(&told), "writes are refused unseen");

    assert_eq!(state(&mut admin, &mut plans, "theirs").await, before, "nothing was changed");
    for one in walk(&mut Clients::of(&yard, Some(&admin_key)).await, there).await {
        assert_eq!(code(&one), Code::Ok, "the same calls are good with a key that may: {one:?}");
    }
    assert_ne!(state(&mut admin, &mut plans, "theirs").await, before);
}

pub async fn what_is_no_farms_needs_a_good_key_as_well(database: Database) {
    let yard = Yard::on(database);
    let walk = async |key: Option<&str>| {
        let mut client = yard.maturity(key).await;
        let feedstock = "grass_mowings".to_owned();
        let one = client.estimate_maturity(EstimateMaturityRequest::default()).await.map(drop);
        let stream =
            client.stream_estimates(stream::iter([StreamEstimatesRequest::default()])).await.map(drop);
        let list = client.list_feedstocks(ListFeedstocksRequest::default()).await.map(drop);
        let row = client.get_feedstock(GetFeedstockRequest { feedstock }).await.map(drop);
        let mut plans = yard.plans(key).await;
        let recipe = plans.suggest_recipe(SuggestRecipeRequest::default()).await.map(drop);
        let requirement = plans.find_requirement(FindRequirementRequest::default()).await.map(drop);
        let season = plans.plan_season(PlanSeasonRequest::default()).await.map(drop);
        [one, stream, list, row, recipe, requirement, season]
            .map(|answer| answer.map_or_else(|status| status.code(), |()| Code::Ok))
    };
    // An empty question is let in, and refused for what it lacks.
    let lacking = Code::InvalidArgument;
    let let_in = [lacking, Code::Ok, Code::Ok, Code::Ok, lacking, lacking, lacking];
    let others =
        methods("MaturityService").len() - READINESS.len() + methods("PlanService").len() - PLANS.len();
    assert_eq!(let_in.len(), others, "the walk calls every method there is");
    assert_eq!(walk(None).await, let_in, "while there are no keys");
    let admin = yard.keys(&["create", "boss", "--scope", "admin", "--all-farms"]);
    assert_eq!(walk(Some(&admin)).await, let_in);
    for key in [None, Some("bck_unknown"), Some("")] {
        assert_eq!(walk(key).await, [Code::Unauthenticated; 7], "{key:?}");
    }
}
