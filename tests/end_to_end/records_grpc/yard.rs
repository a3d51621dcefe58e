//! A server with a store of its own, clients with keys, and a farm to begin with.

use std::process::Command;

use baycast_grpc::proto::maturity_service_client::MaturityServiceClient;
use baycast_grpc::proto::plan_service_client::PlanServiceClient;
use baycast_grpc::proto::records_service_client::RecordsServiceClient;
use baycast_grpc::proto::{
    Addition, AppendEventsRequest, Base, Batch, Bay, Construction, CreateBatchRequest, CreateBayRequest,
    CreateFarmFeedstockRequest, CreateFarmRequest, Event, EventEntry, Farm, FarmBay, FarmFeedstock,
    Feedstock, Reading, Site, Top, Wall, Webhook, event::Detail,
};
use tonic::metadata::{Ascii, MetadataValue};
use tonic::service::Interceptor;
use tonic::service::interceptor::InterceptedService;
use tonic::transport::Channel;
use tonic::{Request, Status};

use crate::binary;
use crate::databases::Database;
use crate::server::Server;

/// A client that sends a key, or none.
pub type Client = RecordsServiceClient<InterceptedService<Channel, Key>>;

/// A client of estimates and readiness that sends a key, or none.
pub type MaturityClient = MaturityServiceClient<InterceptedService<Channel, Key>>;

/// A client of plans.
pub type PlanClient = PlanServiceClient<InterceptedService<Channel, Key>>;

/// A key as it goes with every call.
#[derive(Clone)]
pub struct Key(Option<MetadataValue<Ascii>>);

impl Interceptor for Key {
    fn call(&mut self, mut request: Request<()>) -> Result<Request<()>, Status> {
        if let Some(key) = &self.0 {
            request.metadata_mut().insert("authorization", key.clone());
        }
        Ok(request)
    }
}

/// A server with an empty store and no keys.
pub struct Yard {
    /// The server; declared first, so that it is stopped before its store goes.
    pub server: Server,
    database: Database,
}

impl Yard {
    pub fn on(database: Database) -> Self {
        Self { server: Server::on(&database), database }
    }

    /// A client that sends `key`.
    pub async fn client(&self, key: Option<&str>) -> Client {
        let (channel, key) = self.channel(key).await;
        RecordsServiceClient::with_interceptor(channel, key)
    }

    /// A client of estimates and readiness that sends `key`.
    pub async fn maturity(&self, key: Option<&str>) -> MaturityClient {
        let (channel, key) = self.channel(key).await;
        MaturityServiceClient::with_interceptor(channel, key)
    }

    /// A client of plans that sends `key`.
    pub async fn plans(&self, key: Option<&str>) -> PlanClient {
        let (channel, key) = self.channel(key).await;
        PlanServiceClient::with_interceptor(channel, key)
    }

    async fn channel(&self, key: Option<&str>) -> (Channel, Key) {
        let endpoint = Channel::from_shared(format!("http://{}", self.server.address)).expect("an address");
        let channel = endpoint.connect().await.expect("the server takes connections");
        let key = key.map(|key| format!("Bearer {key}").parse().expect("a header"));
        (channel, Key(key))
    }

    /// Runs a `baycast keys` command on the store while it serves; what it printed.
    pub fn keys(&self, arguments: &[&str]) -> String {
        let mut command = Command::new(binary::path());
        command.arg("keys").args(arguments).args(["--store", &self.database.url]);
        let output = command.output().expect("the binary runs");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8_lossy(&output.stdout).trim().to_owned()
    }
}

/// A farm as a caller says it.
pub fn farm(id: &str) -> Farm {
    Farm {
        id: id.to_owned(),
        name: "Long field".to_owned(),
        site: Some(Site { latitude_deg: Some(52.0), ..Site::default() }),
        time_zone: "Etc/UTC".to_owned(),
        ..Farm::default()
    }
}

/// A bay.
pub fn bay(id: &str) -> FarmBay {
    let wall = Wall { construction: Construction::TimberBoards.into(), layers: Vec::new() };
    let bay = Bay {
        id: id.to_owned(),
        length_m: Some(1.5),
        width_m: Some(1.2),
        height_m: Some(1.1),
        wall: Some(wall),
        base: Base::Soil.into(),
        top: Top::Open.into(),
    };
    FarmBay { bay: Some(bay), position: 1, ..FarmBay::default() }
}

/// A feedstock.
pub fn feedstock(id: &str) -> FarmFeedstock {
    let feedstock = Feedstock {
        id: id.to_owned(),
        name: "Hop bines".to_owned(),
        moisture_fraction: Some(0.6),
        nitrogen_fraction: Some(0.02),
        c_to_n: Some(22.0),
        ash_fraction: Some(0.1),
        bulk_density_kg_m3: Some(150.0),
        fast_fraction: Some(0.4),
        slow_fraction: Some(0.4),
        ..Feedstock::default()
    };
    FarmFeedstock { feedstock: Some(feedstock), ..FarmFeedstock::default() }
}

/// A batch.
pub fn batch(id: &str, start_bay: &str) -> Batch {
    Batch { id: id.to_owned(), start_bay: start_bay.to_owned(), ..Batch::default() }
}

/// A webhook at an address that no message is sent to.
pub fn webhook(id: &str) -> Webhook {
    Webhook { id: id.to_owned(), url: "https://localhost:9443/in".to_owned(), ..Webhook::default() }
}

/// An event on a day of April 2026.
pub fn event(day: u32, detail: Detail) -> Event {
    Event { at: format!("2026-04-{day:02}"), id: None, detail: Some(detail) }
}

/// A filling.
pub fn fill(day: u32) -> Event {
    let addition =
        Addition { feedstock: "grass_mowings".to_owned(), mass_kg: Some(200.0), ..Addition::default() };
    event(day, Detail::Addition(addition))
}

/// A reading.
pub fn reading(day: u32, temperature_c: f64) -> Event {
    event(day, Detail::Reading(Reading { temperature_c: Some(temperature_c), ..Reading::default() }))
}

/// New events to record.
pub fn append(farm: &str, batch: &str, events: Vec<Event>) -> AppendEventsRequest {
    let entry = |event| EventEntry { event: Some(event), ..EventEntry::default() };
    AppendEventsRequest {
        farm: farm.to_owned(),
        batch: batch.to_owned(),
        entries: events.into_iter().map(entry).collect(),
        ..AppendEventsRequest::default()
    }
}

/// Adds a farm with bay `east`, feedstock `bines` and batch `heap` of one event, whose id is handed back.
pub async fn plant(client: &mut Client, id: &str) -> String {
    let name = id.to_owned();
    let request = CreateFarmRequest { farm: Some(farm(id)) };
    client.create_farm(request).await.expect("a farm");
    let request = CreateBayRequest { farm: name.clone(), bay: Some(bay("east")) };
    client.create_bay(request).await.expect("a bay");
    let request = CreateFarmFeedstockRequest { farm: name.clone(), feedstock: Some(feedstock("bines")) };
    client.create_farm_feedstock(request).await.expect("a feedstock");
    let request = CreateBatchRequest { farm: name, batch: Some(batch("heap", "east")) };
    client.create_batch(request).await.expect("a batch");
    let answer = client.append_events(append(id, "heap", vec![fill(1)])).await.expect("an event");
    answer.into_inner().items[0].id.clone()
}
