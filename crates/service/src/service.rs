//! The operations: one estimate, many in order, the feedstock table.

use std::convert::Infallible;
use std::future::pending;
use std::sync::Arc;
use std::time::Duration;

use baycast_model::EstimateError;
use baycast_model::estimate::Estimate;
use baycast_model::feedstock::Feedstock;
use baycast_model::history::History;
use bytes::Bytes;
use futures::{Stream, StreamExt, stream};
use jiff::civil::Date;
use tokio::sync::watch;
use tokio::time::Instant;
use tracing::{Instrument, Span};

use crate::capacity::{Capacity, Load, Place};
use crate::destination::Destinations;
use crate::error::{Error, Outage};
use crate::feedstocks::Table;
use crate::limits::Limits;
use crate::page::Page;
use crate::rates::Rates;
use crate::records::{Store, refusal};
use crate::{parse, weight};

/// When to come back to where a process that is shutting down was, s.
pub(crate) const RETRY_AFTER_S: u64 = 1;

/// Tells today's date. The binary hands in the machine's; tests hand in a fixed one.
pub type Clock = Arc<dyn Fn() -> Date + Send + Sync>;

/// A history in the form in which it came.
#[derive(Clone, Debug)]
pub enum Input {
    /// Its type.
    History(Box<History>),
    /// Its JSON text, parsed by the worker that estimates it.
    Json(Bytes),
}

/// What all front ends call. A clone costs one count: servers make several for each request.
#[derive(Clone)]
pub struct Service(Arc<Parts>);

#[derive(Clone)]
struct Parts {
    limits: Limits,
    clock: Clock,
    capacity: Capacity,
    feedstocks: Arc<Table>,
    draining: watch::Sender<bool>,
    store: Option<Store>,
    pools: bool,
    destinations: Arc<Destinations>,
    rates: Option<Arc<Rates>>,
}

impl Service {
    /// A service that keeps `limits` and reads the date from `clock`.
    #[must_use]
    pub fn new(limits: Limits, clock: Clock) -> Self {
        let capacity = Capacity::new(&limits);
        let feedstocks = Arc::new(Table::new(baycast_model::default_feedstocks()));
        let (draining, destinations) = (watch::Sender::new(false), Arc::default());
        let store = None;
        let parts = Parts {
            limits,
            clock,
            capacity,
            feedstocks,
            draining,
            store,
            pools: true,
            destinations,
            rates: None,
        };
        Self(Arc::new(parts))
    }

    /// The same service but for a change.
    fn with(self, change: impl FnOnce(&mut Parts)) -> Self {
        let mut parts = Arc::unwrap_or_clone(self.0);
        change(&mut parts);
        Self(Arc::new(parts))
    }

    /// The same service with a store of records.
    #[must_use]
    pub(crate) fn with_store(self, store: Store) -> Self {
        self.with(|parts| parts.store = Some(store))
    }

    /// The same service, whose estimates of stored batches rest on earlier batches of the bay or not where a caller does
    /// not say which.
    #[must_use]
    pub fn pooling(self, pools: bool) -> Self {
        self.with(|parts| parts.pools = pools)
    }

    /// Whether estimates of stored batches rest on earlier batches of the bay where a caller does not say.
    pub(crate) fn pools(&self) -> bool {
        self.0.pools
    }

    /// The same service, whose webhooks may be at these places.
    #[must_use]
    pub fn sending_to(self, destinations: Destinations) -> Self {
        self.with(|parts| parts.destinations = Arc::new(destinations))
    }

    /// Where webhooks may be.
    #[must_use]
    pub fn destinations(&self) -> &Destinations {
        &self.0.destinations
    }

    /// The same service, whose callers may call so often.
    #[must_use]
    pub fn paced(self, rates: Rates) -> Self {
        self.with(|parts| parts.rates = Some(Arc::new(rates)))
    }

    /// How often callers may call, where that is bounded.
    #[must_use]
    pub fn rates(&self) -> Option<&Rates> {
        self.0.rates.as_deref()
    }

    /// Counts a request of the key, or the feed, with this id.
    pub(crate) fn count(&self, id: &str) -> Result<(), Error> {
        self.rates().map_or(Ok(()), |rates| rates.take(&id))
    }

    /// How much is taken in now, and was since the start.
    #[must_use]
    pub fn load(&self) -> Load {
        self.0.capacity.load()
    }

    /// Connections to the records' database that are open and idle, and those in use; nothing where there are no records.
    #[must_use]
    pub fn store_connections(&self) -> Option<(usize, usize)> {
        self.0.store.as_ref().map(|store| store.records.connections())
    }

    /// The store, where there is one.
    pub(crate) fn store(&self) -> Result<&Store, Error> {
        self.0.store.as_ref().ok_or_else(|| Error::NotFound { what: "store", name: "records".to_owned() })
    }

    /// Today's date.
    pub(crate) fn today(&self) -> Date {
        (self.0.clock)()
    }

    /// The bounds it keeps.
    #[must_use]
    pub fn limits(&self) -> &Limits {
        &self.0.limits
    }

    /// Why no new work should be sent here: the service drains, or its records are away or take nothing. Nothing where all of
    /// it is welcome.
    #[must_use]
    pub fn outage(&self) -> Option<Error> {
        if *self.0.draining.borrow() {
            return Some(Error::Unavailable { outage: Outage::Process, retry_after_s: RETRY_AFTER_S });
        }
        let trouble = self.0.store.as_ref()?.records.trouble();
        let declined = trouble.borrow().clone();
        declined.map(refusal::of)
    }

    /// Calls `heed` now, and whenever [`Service::outage`] may have changed for the records' sake.
    pub async fn follow_outages(&self, mut heed: impl AsyncFnMut()) -> Infallible {
        let mut trouble = self.0.store.as_ref().map(|store| store.records.trouble());
        loop {
            if let Some(trouble) = &mut trouble {
                trouble.mark_unchanged();
            }
            heed().await;
            match &mut trouble {
                // Its sender is kept by the records.
                Some(trouble) => drop(trouble.changed().await),
                None => pending().await,
            }
        }
    }

    /// From now on the service says that it is not ready, finishes what it has and ends what has no end of its own.
    pub fn drain(&self) {
        self.0.draining.send_replace(true);
    }

    /// Tells whether the service drains, from now on.
    pub(crate) fn draining(&self) -> watch::Receiver<bool> {
        self.0.draining.subscribe()
    }

    /// Estimates one batch; turned away when the queue is full.
    pub async fn estimate(&self, input: Input) -> Result<Estimate, Error> {
        let place = self.enter()?;
        within(self.0.limits.timeout, self.estimated(input, Some(place))).await
    }

    /// A place in the queue, at once or not at all.
    pub(crate) fn enter(&self) -> Result<Place, Error> {
        self.0.capacity.enter()
    }

    /// A place for a stream, to be held while it runs.
    pub fn open_stream(&self) -> Result<Place, Error> {
        self.0.capacity.open_stream()
    }

    /// A place for a watcher, to be held while it watches.
    pub(crate) fn open_watch(&self) -> Result<Place, Error> {
        self.0.capacity.open_watch()
    }

    /// Estimates many batches, each answer in the place of its input and under its key; an input that is an
    /// error already keeps its place.
    ///
    /// At most as many inputs as there are workers are held at once, and no further one is drawn until the
    /// reader has taken an answer. A stream waits for a worker where a single request would be turned away,
    /// since waiting is what slows its sender down.
    pub fn estimates<K, S>(&self, inputs: S) -> impl Stream<Item = (K, Result<Estimate, Error>)> + use<K, S>
    where
        S: Stream<Item = (K, Result<Input, Error>)>,
    {
        let service = self.clone();
        inputs
            .map(move |(key, input)| {
                let service = service.clone();
                async move {
                    let answer = match input {
                        Ok(input) => within(service.0.limits.timeout, service.estimated(input, None)).await,
                        Err(error) => Err(error),
                    };
                    (key, answer)
                }
            })
            .buffered(self.0.limits.concurrency)
    }

    /// A page of the default feedstock table.
    pub fn feedstocks(&self, page_size: Option<i64>, page_token: &str) -> Result<Page<Feedstock>, Error> {
        self.0.feedstocks.page(page_size, page_token)
    }

    /// One row of the default feedstock table.
    pub fn feedstock(&self, id: &str) -> Result<Feedstock, Error> {
        self.0.feedstocks.get(id)
    }

    async fn estimated(&self, input: Input, place: Option<Place>) -> Result<Estimate, Error> {
        let (limits, today) = (self.0.limits, self.today());
        self.work(place, move || answer(input, &limits, today)).await
    }

    /// Waits for a worker and lets it work.
    ///
    /// The blocking task keeps its place until it ends, so one that outlives its caller still counts.
    pub(crate) async fn work<T: Send + 'static>(
        &self,
        place: Option<Place>,
        work: impl FnOnce() -> Result<T, Error> + Send + 'static,
    ) -> Result<T, Error> {
        let waiting = tracing::info_span!(target: "spans", "wait for a worker");
        let worker = self.0.capacity.worker().instrument(waiting).await?;
        let began = Instant::now();
        let (asking, working) = (Span::current(), tracing::info_span!(target: "spans", "work"));
        let task = tokio::task::spawn_blocking(move || {
            let _places = (place, worker);
            asking.in_scope(|| working.in_scope(work))
        });
        let worked_out = task.await;
        self.0.capacity.done(began.elapsed());
        worked_out.unwrap_or_else(|failure| {
            tracing::error!(%failure, "a worker failed");
            Err(Error::Internal)
        })
    }
}

/// Parses where needed, checks the size and estimates: the whole of the work, on the calling thread.
pub fn answer(input: Input, limits: &Limits, today: Date) -> Result<Estimate, Error> {
    let history = match input {
        Input::History(history) => *history,
        Input::Json(text) => parse::history(&text)?,
    };
    weight::check(&history, limits)?;
    baycast_model::estimate(&history, today).map_err(no_estimate)
}

/// Why the model gives no estimate, as the service says it.
pub(crate) fn no_estimate(error: EstimateError) -> Error {
    match error {
        EstimateError::Invalid(problems) => Error::Invalid(problems),
        EstimateError::Integration(failure) => {
            tracing::error!(%failure, "an estimate failed");
            Error::Internal
        }
    }
}

/// `run`, or the deadline error once `time` has passed.
pub async fn within<T>(time: Duration, run: impl Future<Output = Result<T, Error>>) -> Result<T, Error> {
    tokio::time::timeout(time, run).await.unwrap_or(Err(Error::Deadline))
}

/// `inputs`, ended with the deadline error once their sender has been silent for `idle`.
///
/// Time in which nothing is drawn doesn't count: a sender who is held back is not silent.
pub fn until_silent<T: Send>(
    inputs: impl Stream<Item = T> + Send,
    idle: Duration,
) -> impl Stream<Item = Result<T, Error>> + Send {
    stream::unfold(Some(Box::pin(inputs)), move |inputs| async move {
        let mut inputs = inputs?;
        match tokio::time::timeout(idle, inputs.next()).await {
            Ok(input) => input.map(|input| (Ok(input), Some(inputs))),
            Err(_) => Some((Err(Error::Deadline), None)),
        }
    })
}
