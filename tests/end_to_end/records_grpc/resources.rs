//! Farms, bays, feedstocks and batches: created, read, listed, changed by field masks, put away.

use baycast_grpc::proto::{
    ArchiveBatchRequest, ArchiveState, Base, BatchesShown, CreateBatchRequest, CreateBayRequest,
    CreateFarmFeedstockRequest, CreateFarmRequest, Criteria, DailyWeather, Farm, FarmBay, GetBayRequest,
    GetFarmFeedstockRequest, GetFarmRequest, Layer, ListBatchesRequest, ListBaysRequest, Normals, Structure,
    Top, UpdateBatchRequest, UpdateBayRequest, UpdateFarmRequest, Use, ValueSource,
};
use prost_types::FieldMask;
use tonic::Code;
use tonic_types::StatusExt;

use super::yard::{Yard, append, batch, bay, farm, feedstock, plant, reading};
use crate::databases::Database;

fn mask(paths: &[&str]) -> FieldMask {
    FieldMask { paths: paths.iter().map(|path| (*path).to_owned()).collect() }
}

pub async fn what_is_created_comes_back_whole(database: Database) {
    let yard = Yard::on(database);
    let mut client = yard.client(None).await;
    let mut whole = farm("home");
    whole.barrow_m3 = Some(0.1);
    let site = whole.site.as_mut().expect("a site");
    site.normals = Some(Normals { mean_air_c: vec![9.5; 12], rain_mm: vec![60.0; 12] });
    site.daily = vec![DailyWeather { date: "2026-04-01".into(), mean_air_c: Some(11.0), rain_mm: None }];
    let request = CreateFarmRequest { farm: Some(whole.clone()) };
    let kept = client.create_farm(request).await.expect("a farm").into_inner().farm.expect("a farm");
    assert_eq!(kept, Farm { etag: kept.etag.clone(), ..whole });
    let again = client.create_farm(CreateFarmRequest { farm: Some(farm("home")) }).await;
    assert_eq!(again.expect_err("once only").code(), Code::AlreadyExists);
    let got = client.get_farm(GetFarmRequest { farm: "home".into() }).await.expect("a farm");
    assert_eq!(got.into_inner().farm, Some(kept));

    let mut whole = bay("east");
    let own = whole.bay.as_mut().expect("a bay");
    (own.base, own.top) = (Base::Slab.into(), Top::Roofed.into());
    own.wall.as_mut().expect("a wall").layers =
        vec![Layer { thickness_m: Some(0.02), conductivity_w_m_k: Some(0.13) }];
    let request = CreateBayRequest { farm: "home".into(), bay: Some(whole.clone()) };
    let kept = client.create_bay(request).await.expect("a bay").into_inner().bay.expect("a bay");
    assert_eq!(kept, FarmBay { etag: kept.etag.clone(), ..whole });
    let request = GetBayRequest { farm: "home".into(), bay: "east".into() };
    assert_eq!(client.get_bay(request).await.expect("a bay").into_inner().bay, Some(kept));

    let mut whole = feedstock("bines");
    let own = whole.feedstock.as_mut().expect("a feedstock");
    own.structure = Structure::Porous.into();
    let source = |text: &str| text.to_owned();
    own.sources = vec![ValueSource {
        field: source("c_to_n"),
        citation: source("own analysis"),
        checked: source("measured"),
    }];
    let request = CreateFarmFeedstockRequest { farm: "home".into(), feedstock: Some(whole.clone()) };
    let kept = client.create_farm_feedstock(request).await.expect("a feedstock").into_inner().feedstock;
    let kept = kept.expect("a feedstock");
    assert_eq!(kept.feedstock, whole.feedstock);
    let request = GetFarmFeedstockRequest { farm: "home".into(), feedstock: "bines".into() };
    let got = client.get_farm_feedstock(request).await.expect("a feedstock").into_inner();
    assert_eq!(got.feedstock, Some(kept));

    let mut whole = batch("heap", "east");
    (whole.horizon_days, whole.forecast_step_days) = (Some(90), Some(3));
    whole.criteria = vec![Criteria {
        r#use: Use::Potting.into(),
        min_maturity_index: Some(0.9),
        max_respiration_mg_co2c_g_vs_day: Some(2.0),
        max_above_air_c: Some(4.0),
        max_c_to_n: Some(20.0),
        min_moisture_fraction: Some(0.4),
        max_moisture_fraction: Some(0.6),
        max_shrinkage_fraction: Some(0.02),
    }];
    let request = CreateBatchRequest { farm: "home".into(), batch: Some(whole.clone()) };
    let kept = client.create_batch(request).await.expect("a batch").into_inner().batch.expect("a batch");
    assert_eq!((kept.criteria, kept.horizon_days), (whole.criteria, Some(90)));
}

pub async fn a_mask_changes_what_it_names_and_a_stale_etag_nothing(database: Database) {
    let yard = Yard::on(database);
    let mut client = yard.client(None).await;
    plant(&mut client, "home").await;
    let now = client.get_farm(GetFarmRequest { farm: "home".into() }).await.expect("a farm");
    let now = now.into_inner().farm.expect("a farm");

    let named = Farm {
        id: "home".into(),
        name: "Short field".into(),
        time_zone: "Europe/Dublin".into(),
        etag: now.etag.clone(),
        ..Farm::default()
    };
    let request = UpdateFarmRequest { farm: Some(named.clone()), update_mask: Some(mask(&["name"])) };
    let next = client.update_farm(request).await.expect("a change").into_inner().farm.expect("a farm");
    assert_eq!(
        next,
        Farm { name: "Short field".into(), etag: next.etag.clone(), ..now.clone() },
        "the name alone"
    );
    assert_ne!(next.etag, now.etag);

    let request = UpdateFarmRequest { farm: Some(named.clone()), update_mask: None };
    let stale = client.update_farm(request).await.expect_err("changed meanwhile");
    assert_eq!(stale.code(), Code::Aborted);
    let set = Farm { etag: next.etag.clone(), ..named.clone() };
    let request = UpdateFarmRequest { farm: Some(set), update_mask: None };
    let set = client.update_farm(request).await.expect("a change").into_inner().farm.expect("a farm");
    assert_eq!((set.time_zone.as_str(), &set.site), ("Europe/Dublin", &now.site), "what is set, and no more");

    let cases = [
        ("etag", Farm { etag: String::new(), ..named.clone() }, None),
        ("update_mask.paths[1]", named.clone(), Some(mask(&["name", "archived"]))),
        // All of it means its site too, and there is none.
        ("site", Farm { etag: set.etag.clone(), ..named }, Some(mask(&["*"]))),
    ];
    for (field, farm, update_mask) in cases {
        let request = UpdateFarmRequest { farm: Some(farm), update_mask };
        let refused = client.update_farm(request).await.expect_err(field);
        assert_eq!(refused.code(), Code::InvalidArgument, "{field}");
        let violations = refused.get_details_bad_request().expect("details").field_violations;
        assert_eq!(violations[0].field, field);
    }

    let mut place = FarmBay { position: 7, etag: "1".into(), ..bay("east") };
    place.bay.as_mut().expect("a bay").length_m = Some(9.0);
    let request =
        UpdateBayRequest { farm: "home".into(), bay: Some(place), update_mask: Some(mask(&["position"])) };
    let moved = client.update_bay(request).await.expect("a change").into_inner().bay.expect("a bay");
    assert_eq!((moved.position, moved.bay), (7, bay("east").bay));
}

pub async fn a_batch_put_away_takes_no_events_until_it_is_brought_back(database: Database) {
    let yard = Yard::on(database);
    let mut client = yard.client(None).await;
    plant(&mut client, "home").await;
    let archive = |etag: &str, state: ArchiveState| ArchiveBatchRequest {
        farm: "home".into(),
        batch: "heap".into(),
        etag: etag.into(),
        state: state.into(),
    };
    let away = client.archive_batch(archive("1", ArchiveState::Unspecified)).await.expect("put away");
    let away = away.into_inner().batch.expect("a batch");
    assert!(away.archived.expect("when").ends_with('Z'));
    let refused = client.append_events(append("home", "heap", vec![reading(4, 50.0)])).await;
    assert_eq!(refused.expect_err("put away").code(), Code::FailedPrecondition);
    for (shown, count) in [(BatchesShown::Unspecified, 0), (BatchesShown::Active, 0), (BatchesShown::All, 1)]
    {
        let request = ListBatchesRequest { farm: "home".into(), shown: shown.into(), ..Default::default() };
        let found = client.list_batches(request).await.expect("batches").into_inner().items.len();
        assert_eq!(found, count, "{shown:?}");
    }
    let back = client.archive_batch(archive(&away.etag, ArchiveState::Active)).await.expect("back");
    let back = back.into_inner().batch.expect("a batch");
    assert_eq!(back.archived, None);
    let named = batch("heap", "");
    let named = baycast_grpc::proto::Batch { name: "Spring".into(), etag: back.etag, ..named };
    let request = UpdateBatchRequest { farm: "home".into(), batch: Some(named), update_mask: None };
    let named = client.update_batch(request).await.expect("a change").into_inner().batch.expect("a batch");
    assert_eq!((named.name.as_str(), named.start_bay.as_str(), named.event_version), ("Spring", "east", 1));
    client.append_events(append("home", "heap", vec![reading(4, 50.0)])).await.expect("an event");
}

pub async fn pages_join_to_the_whole_list(database: Database) {
    let yard = Yard::on(database);
    let mut client = yard.client(None).await;
    plant(&mut client, "home").await;
    for number in 0..5 {
        let request = CreateBayRequest { farm: "home".into(), bay: Some(bay(&format!("z{number}"))) };
        client.create_bay(request).await.expect("a bay");
    }
    let (mut ids, mut page_token) = (Vec::new(), String::new());
    loop {
        let request = ListBaysRequest { farm: "home".into(), page_size: 2, page_token };
        let page = client.list_bays(request).await.expect("a page").into_inner();
        assert!((1..=2).contains(&page.items.len()));
        ids.extend(page.items.into_iter().map(|bay| bay.bay.expect("a bay").id));
        page_token = page.next_page_token;
        if page_token.is_empty() {
            break;
        }
    }
    assert_eq!(ids, ["east", "z0", "z1", "z2", "z3", "z4"]);
    let request = ListBaysRequest { farm: "home".into(), page_size: -1, page_token: String::new() };
    assert_eq!(client.list_bays(request).await.expect_err("no size").code(), Code::InvalidArgument);
}
