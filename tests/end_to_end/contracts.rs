//! Both contracts side by side: a field, word or operation of one that the other lacks fails here.

use std::collections::{BTreeMap, BTreeSet};

use baycast_grpc::proto::DESCRIPTORS;
use prost::Message;
use prost_types::field_descriptor_proto::{Label, Type};
use prost_types::{
    DescriptorProto, EnumDescriptorProto, FieldDescriptorProto, FileDescriptorSet, OneofDescriptorProto,
};
use serde_json::Value;

/// What a member holds, said in one way for both contracts.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Shape {
    Text,
    Number,
    Whole,
    Truth,
    Named(String),
    List(Box<Shape>),
}

/// Members of each object and words of each enum, by name.
#[derive(Debug, Default, PartialEq)]
struct Contract {
    objects: BTreeMap<String, BTreeMap<String, Shape>>,
    words: BTreeMap<String, BTreeSet<String>>,
}

/// Pages and other parts of lists by the name that they have over REST, and what lists them over gRPC.
const PAGES: [(&str, &str); 11] = [
    ("FeedstockPage", "ListFeedstocks"),
    ("FarmPage", "ListFarms"),
    ("FarmBayPage", "ListBays"),
    ("FarmFeedstockPage", "ListFarmFeedstocks"),
    ("BatchPage", "ListBatches"),
    ("RecordedEventPage", "ListEvents"),
    ("ApiKeyPage", "ListKeys"),
    ("WebhookPage", "ListWebhooks"),
    ("DeliveryPage", "ListDeliveries"),
    ("ReadinessChanges", "ListReadinessChanges"),
    ("FeedPage", "ListFeeds"),
];

/// Where the two are meant to differ. A page and a problem carry what their protocol has no other place for.
fn reconcile(rest: &mut Contract, grpc: &mut Contract) {
    for (page, method) in PAGES {
        let answer = grpc.objects.remove(&format!("{method}Response")).expect("a page");
        grpc.objects.insert(page.to_owned(), answer);
    }
    // Over REST the path names the batch, and a header carries the id of the request.
    let append = grpc.objects.get_mut("AppendEventsRequest").expect("an append");
    for elsewhere in ["farm", "batch", "request_id"] {
        assert_eq!(append.remove(elsewhere), Some(Shape::Text), "{elsewhere}");
    }
    // Over REST a body is events alone, or a sheet alone; the path, the query and a header carry the rest.
    let bring_in = grpc.objects.get_mut("BringInEventsRequest").expect("what is brought in");
    for elsewhere in ["farm", "sheet", "mode", "dry_run", "dates", "units", "request_id"] {
        assert!(bring_in.remove(elsewhere).is_some(), "{elsewhere}");
    }
    // Over REST the path names the farm.
    let feed = grpc.objects.get_mut("CreateFeedRequest").expect("a feed address to create");
    assert_eq!(feed.remove("farm"), Some(Shape::Text));
    // Over REST a header carries the tag of an estimate.
    let estimate = grpc.objects.get_mut("EstimateBatchResponse").expect("an estimate");
    assert_eq!(estimate.remove("etag"), Some(Shape::Text));
    // And that of a kept season and of its plan.
    for method in ["GetSeason", "KeepSeason", "GetPlan"] {
        let answer = grpc.objects.get_mut(&format!("{method}Response")).expect("an answer");
        assert_eq!(answer.remove("etag"), Some(Shape::Text), "{method}");
    }
    for method in methods() {
        let (request, response) = (format!("{method}Request"), format!("{method}Response"));
        if !rest.objects.contains_key(&request) {
            // The parts of a request stand in the path, the query, the headers and the body.
            grpc.objects.remove(&request).expect("a request for each method");
        }
        if grpc.objects.get(&response).is_some_and(|members| members.len() == 1)
            && !rest.objects.contains_key(&response)
        {
            // It holds the answer alone.
            grpc.objects.remove(&response);
        }
    }
    // Over REST a line of a stream is an estimate or a problem; the problem has its number.
    let line = grpc.objects.remove("StreamEstimatesResponse").expect("a line of a stream");
    assert_eq!(line.keys().collect::<Vec<_>>(), ["estimate", "line", "problem"]);
    // Over REST an event of the stream is the whole or a change; its name says which.
    let news = grpc.objects.remove("WatchReadinessResponse").expect("news");
    assert_eq!(news.keys().collect::<Vec<_>>(), ["change", "readiness"]);
    let problem = rest.objects.get_mut("Problem").expect("a problem");
    assert_eq!(problem.remove("line"), Some(Shape::Whole));
    // The same problem has an HTTP status there and a code here.
    let status = problem.remove("status").expect("a status");
    problem.insert("code".to_owned(), status);
}

#[test]
fn every_field_and_word_of_one_stands_in_the_other() {
    let (mut rest, mut grpc) = (rest(), grpc());
    reconcile(&mut rest, &mut grpc);
    assert!(rest.objects.len() > 30 && rest.words.len() > 15, "the contract was read");
    let names = |contract: &Contract| contract.objects.keys().cloned().collect::<BTreeSet<_>>();
    assert_eq!(names(&rest), names(&grpc));
    for (name, members) in &rest.objects {
        assert_eq!(members, &grpc.objects[name], "members of {name}: REST left, gRPC right");
    }
    assert_eq!(rest.words, grpc.words, "words: REST left, gRPC right");
}

#[test]
fn every_operation_of_one_stands_in_the_other() {
    let description = description();
    let mut rest = BTreeSet::new();
    for (path, methods) in description["paths"].as_object().expect("paths") {
        for operation in methods.as_object().expect("methods").values() {
            let id = operation["operationId"].as_str().expect("an id");
            // The sheet, the calendar, the feeds and the single values are other forms of the readiness.
            let other_form = id.starts_with("get_readiness_");
            if path.starts_with("/v1/") && !other_form {
                rest.insert(id.to_owned());
            }
        }
    }
    let grpc: BTreeSet<_> = methods().iter().map(|method| snake(method)).collect();
    assert_eq!(rest, grpc);
}

#[test]
fn the_description_is_openapi_3_1_and_refers_to_nothing_absent() {
    let description = description();
    assert!(description["openapi"].as_str().expect("a version").starts_with("3.1."));
    let mut open = vec![&description];
    while let Some(value) = open.pop() {
        if let Some(target) = value.get("$ref").and_then(Value::as_str) {
            let pointer = target.strip_prefix('#').expect("a reference within the document");
            assert!(description.pointer(pointer).is_some(), "{target}");
        }
        match value {
            Value::Object(members) => open.extend(members.values()),
            Value::Array(elements) => open.extend(elements),
            _ => {}
        }
    }
}

/// The OpenAPI description.
fn description() -> Value {
    serde_json::from_str(&baycast_rest::openapi()).expect("the description is JSON")
}

/// The compiled protobuf files, those that they import from elsewhere left out.
fn files() -> FileDescriptorSet {
    let mut files = FileDescriptorSet::decode(DESCRIPTORS).expect("the descriptors can be read");
    files.file.retain(|file| file.package() != "google.protobuf");
    files
}

/// Names of all gRPC methods.
fn methods() -> Vec<String> {
    let services = files().file.into_iter().flat_map(|file| file.service);
    services.flat_map(|service| service.method).map(|method| method.name().to_owned()).collect()
}

/// The contract as OpenAPI has it.
fn rest() -> Contract {
    let mut contract = Contract::default();
    let description = description();
    let schemas = description["components"]["schemas"].as_object().expect("schemas");
    for (name, schema) in schemas {
        if name == "Moment" {
            // A text in both.
            assert_eq!(schema["type"], "string");
        } else if let Some(words) = words(schema) {
            contract.words.insert(name.clone(), words);
        } else {
            let none = serde_json::Map::new();
            let members = schema.get("properties").and_then(Value::as_object).unwrap_or(&none);
            let members = members.iter().map(|(member, schema)| (member.clone(), schema_shape(schema)));
            contract.objects.insert(name.clone(), members.collect());
        }
    }
    contract
}

/// The words of an enum's schema.
fn words(schema: &Value) -> Option<BTreeSet<String>> {
    if let Some(words) = schema.get("enum").and_then(Value::as_array) {
        return Some(words.iter().map(|word| word.as_str().expect("a word").to_owned()).collect());
    }
    let cases = schema.get("oneOf")?.as_array()?;
    cases.iter().map(words).try_fold(BTreeSet::new(), |mut all, words| {
        all.extend(words?);
        Some(all)
    })
}

/// What a schema holds; the null of an optional member is left out.
fn schema_shape(schema: &Value) -> Shape {
    if let Some(target) = schema.get("$ref").and_then(Value::as_str) {
        let name = target.rsplit('/').next().unwrap_or_default();
        return if name == "Moment" { Shape::Text } else { Shape::Named(name.to_owned()) };
    }
    if let Some(cases) = schema.get("oneOf").or_else(|| schema.get("allOf")).and_then(Value::as_array) {
        let told = cases.iter().find(|case| case["type"] != "null").expect("a case beside null");
        return schema_shape(told);
    }
    let types: Vec<_> = match &schema["type"] {
        Value::Array(types) => types.iter().filter_map(Value::as_str).filter(|one| *one != "null").collect(),
        one => one.as_str().into_iter().collect(),
    };
    match types.as_slice() {
        ["string"] => Shape::Text,
        ["number"] => Shape::Number,
        ["integer"] => Shape::Whole,
        ["boolean"] => Shape::Truth,
        ["array"] => Shape::List(Box::new(schema_shape(&schema["items"]))),
        other => panic!("{other:?} in {schema}"),
    }
}

/// The contract as protobuf has it.
fn grpc() -> Contract {
    let mut contract = Contract::default();
    for file in files().file {
        assert_eq!(file.package(), "baycast.v1");
        for message in &file.message_type {
            let members = message.field.iter().map(|field| (field.name().to_owned(), field_shape(field)));
            contract.objects.insert(message.name().to_owned(), members.collect());
            let either = ["Event", "StreamEstimatesResponse", "WatchReadinessResponse"];
            assert_eq!(oneofs(message).len(), usize::from(either.contains(&message.name())));
        }
        for word in &file.enum_type {
            contract.words.insert(word.name().to_owned(), values(word));
        }
    }
    contract
}

/// Names of a message's oneofs, without those that only mark an optional field.
fn oneofs(message: &DescriptorProto) -> Vec<&str> {
    message.oneof_decl.iter().map(OneofDescriptorProto::name).filter(|name| !name.starts_with('_')).collect()
}

/// What a field holds.
fn field_shape(field: &FieldDescriptorProto) -> Shape {
    let one = match field.r#type() {
        Type::String => Shape::Text,
        Type::Double => Shape::Number,
        Type::Uint32 | Type::Uint64 | Type::Int32 => Shape::Whole,
        Type::Bool => Shape::Truth,
        Type::Message | Type::Enum => {
            Shape::Named(field.type_name().rsplit('.').next().unwrap_or_default().to_owned())
        }
        other => panic!("{other:?} in {}", field.name()),
    };
    if field.label() == Label::Repeated { Shape::List(Box::new(one)) } else { one }
}

/// An enum's words as JSON has them, without the unspecified one.
fn values(word: &EnumDescriptorProto) -> BTreeSet<String> {
    let prefix = snake(word.name()) + "_";
    let values = word.value.iter().map(|value| {
        let name = value.name().to_lowercase();
        name.strip_prefix(&prefix).unwrap_or_else(|| panic!("{name} without {prefix}")).to_owned()
    });
    let mut values: BTreeSet<_> = values.collect();
    assert!(values.remove("unspecified"), "{}", word.name());
    values
}

/// `ListFeedstocks` as `list_feedstocks`.
fn snake(name: &str) -> String {
    let mut snake = String::new();
    for letter in name.chars() {
        if letter.is_uppercase() && !snake.is_empty() {
            snake.push('_');
        }
        snake.extend(letter.to_lowercase());
    }
    snake
}
