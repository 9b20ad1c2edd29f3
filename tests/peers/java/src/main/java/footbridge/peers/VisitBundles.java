package footbridge.peers;

import com.fasterxml.jackson.databind.JsonNode;
import footbridge.peers.MappingTables.Band;
import footbridge.peers.MappingTables.Spot;
import footbridge.peers.VisitIndices.Index;
import java.math.BigDecimal;
import java.net.URLEncoder;
import java.nio.ByteBuffer;
import java.nio.charset.StandardCharsets;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.time.LocalDateTime;
import java.time.format.DateTimeFormatter;
import java.util.ArrayList;
import java.util.HashMap;
import java.util.HashSet;
import java.util.LinkedHashMap;
import java.util.LinkedHashSet;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Set;
import java.util.UUID;
import org.hl7.fhir.r4.model.Annotation;
import org.hl7.fhir.r4.model.Bundle;
import org.hl7.fhir.r4.model.CodeableConcept;
import org.hl7.fhir.r4.model.Coding;
import org.hl7.fhir.r4.model.DateTimeType;
import org.hl7.fhir.r4.model.Identifier;
import org.hl7.fhir.r4.model.InstantType;
import org.hl7.fhir.r4.model.Narrative;
import org.hl7.fhir.r4.model.Observation;
import org.hl7.fhir.r4.model.Quantity;
import org.hl7.fhir.r4.model.Reference;
import org.hl7.fhir.r4.model.Resource;
import org.hl7.fhir.utilities.xhtml.NodeType;
import org.hl7.fhir.utilities.xhtml.XhtmlNode;

/**
 * Assessments to FHIR R4 transaction bundles in the model classes.
 *
 * <p>It does a part of Footbridge's work, which the benchmark measures of ours as well: readings held against
 * the limits of their items, the indices that decide, their classes, and around them what {@link VisitRecord}
 * makes. There are no other rules of validation, no pressure criteria of a threatened limb, WIfI grades, waveform
 * classes, flags, low-ankle index, gradient or arm difference. tests/bench/peers/equivalent.py compares what it makes.
 */
final class VisitBundles {

  private static final String UCUM = "http://unitsofmeasure.org";
  private static final Coding OFF_SCALE_HIGH =
      new Coding("http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation", ">", "Off scale high");

  /** RFC 4122, appendix C. */
  private static final UUID URL_NAMESPACE = UUID.fromString("6ba7b811-9dad-11d1-80b4-00c04fd430c8");

  private static final DateTimeFormatter WHEN = DateTimeFormatter.ofPattern("d MMMM uuuu HH:mm", Locale.UK);
  private static final Map<String, String> TOE_METHODS =
      Map.of(
          "photoplethysmography", "method-photoplethysmography",
          "laser-doppler", "method-laser-doppler",
          "doppler", "method-doppler");

  private final MappingTables tables;
  private final MessageDigest sha1;
  private final UUID namespace;
  private final String system;
  private final Map<String, String> searches = new HashMap<>();

  VisitBundles(MappingTables tables) throws NoSuchAlgorithmException {
    this.tables = tables;
    sha1 = MessageDigest.getInstance("SHA-1");
    namespace = uuid5(URL_NAMESPACE, tables.idBase);
    system = tables.idBase + "/observation";
    for (String kind : List.of("observation", "device", "diagnosticreport")) {
      searches.put(kind, "identifier=" + searchValue(tables.idBase + "/" + kind) + "%7C");
    }
  }

  Bundle convert(JsonNode assessment, byte[] text) {
    Visit visit = new Visit(assessment);
    visit.record.addInstruments();
    for (VisitReading reading : visit.readings.values()) {
      if (reading.spot.code() != null) addReading(visit, reading);
    }
    VisitIndices indices = new VisitIndices(visit.readings);
    for (String side : MappingTables.SIDES) {
      boolean examined = visit.legs.contains(side);
      for (Index index : indices.of(side)) {
        if (index.hundredths() == null && !examined) continue;
        String uuid = addIndex(visit, index);
        if (examined && tables.bands.containsKey(index.id())) addBand(visit, index, uuid);
      }
    }
    visit.record.addPanels();
    visit.record.addProvenance(text, visit.record.addReport());
    return visit.bundle;
  }

  /** What all resources of a visit share. */
  final class Visit {
    final Bundle bundle = new Bundle().setType(Bundle.BundleType.TRANSACTION);
    final Map<String, VisitReading> readings = new LinkedHashMap<>();
    final Set<String> legs = new HashSet<>();
    final List<String> queries = new ArrayList<>();
    final VisitRecord record;
    final String when;
    final String root;
    final boolean revised;
    final Observation.ObservationStatus status;
    final String end;
    final Reference subject;
    final Reference encounter;
    final DateTimeType effective;
    final InstantType issued;
    final List<Reference> performers;

    Visit(JsonNode assessment) {
      for (Spot spot : tables.spots) {
        JsonNode sent = assessment;
        for (String name : spot.path()) sent = sent.path(name);
        if (sent.isMissingNode()) continue;
        VisitReading reading = new VisitReading(spot, sent, tables.pulses);
        reading.holdAgainstLimits(queries);
        readings.put(spot.key(), reading);
        if (spot.leg() != null) legs.add(spot.leg());
      }
      Identifier own = identifier(assessment.get("identifier"));
      root = uuid5(namespace, "assessment/" + own.getSystem() + "|" + own.getValue()).toString();
      revised = assessment.path("revision").asInt(1) > 1;
      status = Observation.ObservationStatus.fromCode(assessment.get("status").asText());
      String measuredAt = assessment.get("measuredAt").asText();
      when = spokenTime(measuredAt);
      end = ". " + when + ". Status: " + status.toCode() + ".";
      Identifier patient = identifier(assessment.at("/patient/identifiers/0"));
      subject =
          new Reference(
              "Patient?identifier=" + searchValue(patient.getSystem()) + "%7C" + searchValue(patient.getValue()));
      JsonNode encounterId = assessment.at("/encounter/identifier");
      encounter = encounterId.isMissingNode() ? null : new Reference().setType("Encounter");
      if (encounter != null) encounter.setIdentifier(identifier(encounterId));
      effective = new DateTimeType(measuredAt);
      issued = new InstantType(assessment.path("issuedAt").asText(measuredAt));
      performers =
          List.of(
              party("Practitioner", assessment.get("performer")),
              party("Organization", assessment.get("organization")));
      record = new VisitRecord(tables, this, assessment);
    }

    /** The name-based UUID of something that is the same in every visit. */
    String uuid(String name) {
      return uuid5(namespace, name).toString();
    }

    /** The name-based UUID of a part of this visit. */
    String uuidBelow(String name) {
      return uuid(root + "/" + name);
    }

    Bundle.BundleEntryRequestComponent addEntry(Resource made, String uuid) {
      return bundle.addEntry().setFullUrl("urn:uuid:" + uuid).setResource(made).getRequest();
    }

    /** With the request by which it is there once, found by its identifier of that kind. */
    void addEntry(Resource made, String uuid, String kind) {
      String type = made.fhirType();
      String search = searches.get(kind) + uuid;
      Bundle.BundleEntryRequestComponent request = addEntry(made, uuid);
      if (revised) request.setMethod(Bundle.HTTPVerb.PUT).setUrl(type + "?" + search);
      else request.setMethod(Bundle.HTTPVerb.POST).setUrl(type).setIfNoneExist(search);
    }

    /** An Observation with what all of a visit have, in its place in the bundle. */
    Observation observation(String uuid, String sentence) {
      Observation made = new Observation();
      made.setText(narrative(sentence + end));
      made.addIdentifier().setSystem(system).setValue(uuid);
      made.setStatus(status).setSubject(subject).setEffective(effective).setIssuedElement(issued);
      if (encounter != null) made.setEncounter(encounter);
      performers.forEach(made::addPerformer);
      addEntry(made, uuid, "observation");
      return made;
    }
  }

  static Identifier identifier(JsonNode node) {
    return new Identifier().setSystem(node.get("system").asText()).setValue(node.get("value").asText());
  }

  private static Reference party(String type, JsonNode node) {
    Reference made = new Reference().setType(type).setDisplay(node.path("name").asText(null));
    if (node.has("identifier")) made.setIdentifier(identifier(node.get("identifier")));
    return made;
  }

  private UUID uuid5(UUID space, String name) {
    ByteBuffer octets = ByteBuffer.allocate(16);
    octets.putLong(space.getMostSignificantBits()).putLong(space.getLeastSignificantBits());
    sha1.update(octets.array());
    ByteBuffer hash = ByteBuffer.wrap(sha1.digest(name.getBytes(StandardCharsets.UTF_8)));
    long high = hash.getLong() & 0xffffffffffff0fffL | 0x5000L;
    long low = hash.getLong() & 0x3fffffffffffffffL | 0x8000000000000000L;
    return new UUID(high, low);
  }

  static String searchValue(String text) {
    return URLEncoder.encode(text.replaceAll("[\\\\,|$]", "\\\\$0"), StandardCharsets.UTF_8).replace("+", "%20");
  }

  /** The time as the clock on the wall showed it: the offset is cut off, not applied. */
  private static String spokenTime(String text) {
    return WHEN.format(LocalDateTime.parse(text.substring(0, 19)));
  }

  /** The Observation of that name; leg is null where it belongs to none. */
  private Observation add(Visit visit, String name, String sentence, String leg) {
    String uuid = visit.uuidBelow(name);
    visit.record.note(uuid, leg);
    return visit.observation(uuid, sentence);
  }

  static Narrative narrative(String sentence) {
    XhtmlNode div = new XhtmlNode(NodeType.Element, "div");
    div.addTag("p").addText(sentence);
    Narrative made = new Narrative().setStatus(Narrative.NarrativeStatus.GENERATED);
    made.setDiv(div);
    return made;
  }

  private static String uuidOf(Observation observation) {
    return observation.getIdentifierFirstRep().getValue();
  }

  private void addReading(Visit visit, VisitReading reading) {
    Spot spot = reading.spot;
    String words = reading.spoken();
    visit.record.noteReading(spot, words);
    String sentence = spot.label() + ": " + words;
    if (reading.note != null) sentence += " (" + reading.note + ")";
    Observation made = add(visit, "reading/" + spot.key(), sentence, spot.leg());
    made.addCategory(spot.category()).setCode(spot.code()).setDevice(visit.record.device(spot.instrument()));
    reading.uuid = uuidOf(made);
    setValue(made, reading);
    boolean toe = spot.id().equals("toe.pressure");
    made.setBodySite(toe ? toeSite(visit, spot.side()) : spot.site());
    made.setMethod(toe ? toeMethod(visit, spot.side()) : spot.method());
    if (reading.note != null) made.addNote().setText(reading.note);
    if (reading.written != null) made.addNote().setText("Written as " + reading.written + ".");
    if (reading.original != null) made.addNote().setText("Sent as " + reading.original + ".");
  }

  private void setValue(Observation made, VisitReading reading) {
    if (reading.absent != null) {
      made.setDataAbsentReason(MappingTables.absence(reading.absent, reading.note));
    } else if (reading.incompressible) {
      setIncompressible(made, reading);
    } else if (reading.is(VisitReading.State.NO_SIGNAL)) {
      made.setValue(tables.concepts.get("no-signal"));
    } else if (reading.value != null) {
      Quantity quantity = quantity(reading.value, reading.spot.unitLabel(), reading.spot.unit());
      if (reading.comparator != null) {
        quantity.setComparator(Quantity.QuantityComparator.fromCode(reading.comparator));
      }
      made.setValue(quantity);
    } else {
      made.setValue(
          reading.text == null
              ? reading.spot.words().get(reading.word)
              : new CodeableConcept().setText(reading.text));
    }
  }

  private void setIncompressible(Observation made, VisitReading reading) {
    CodeableConcept found = tables.concepts.get("incompressible");
    if (reading.value == null) {
      made.setValue(found);
      return;
    }
    Quantity limit = quantity(reading.value, "mmHg", "mm[Hg]");
    made.setValue(limit.setComparator(Quantity.QuantityComparator.GREATER_THAN));
    CodeableConcept interpretation = new CodeableConcept().setText(found.getText()).addCoding(OFF_SCALE_HIGH);
    found.getCoding().forEach(interpretation::addCoding);
    made.addInterpretation(interpretation);
  }

  private static Quantity quantity(BigDecimal value, String label, String unit) {
    return new Quantity().setValue(value).setUnit(label).setSystem(UCUM).setCode(unit);
  }

  private CodeableConcept toeSite(Visit visit, String side) {
    VisitReading digit = visit.readings.get("toe.digit/" + side);
    String which = digit == null || digit.word == null ? "" : digit.word + "-";
    return tables.concepts.get("site-" + which + "toe-" + side);
  }

  private CodeableConcept toeMethod(Visit visit, String side) {
    VisitReading sensor = visit.readings.get("toe.sensor/" + side);
    return sensor == null || sensor.word == null ? null : tables.concepts.get(TOE_METHODS.get(sensor.word));
  }

  private String addIndex(Visit visit, Index index) {
    MappingTables.IndexRow row = tables.indices.get(index.id());
    String side = index.side();
    BigDecimal value = index.hundredths() == null ? null : BigDecimal.valueOf(index.hundredths(), 2);
    String sentence = row.label() + ", " + side + ": " + (value == null ? "no value" : value.toPlainString());
    String name = "index/" + index.id() + "/" + side;
    Observation made = add(visit, name, sentence, side);
    made.addCategory(tables.exam).setCode(row.code().get(side));
    visit.record.noteIndex(side, row.label() + ": " + (value == null ? "no value" : value.toPlainString()));
    if (value == null) {
      made.setDataAbsentReason(MappingTables.absence(index.reason(), "the pressures do not give it"));
    } else {
      made.setValue(quantity(value, "1", row.unit()));
    }
    made.setBodySite(index.id().equals("tbi") ? toeSite(visit, side) : row.site().get(side));
    if (index.method() != null) made.setMethod(new CodeableConcept().setText(index.method()));
    Set<String> inputs = new LinkedHashSet<>();
    for (VisitReading input : index.inputs()) inputs.add(input.uuid);
    for (String uuid : inputs) made.addDerivedFrom(new Reference("urn:uuid:" + uuid));
    return uuidOf(made);
  }

  private Band bandOf(Index index) {
    if (index.hundredths() == null) return null;
    for (Band band : tables.bands.get(index.id())) {
      if (index.hundredths() >= band.from() && index.hundredths() <= band.to()) return band;
    }
    return null;
  }

  private void addBand(Visit visit, Index index, String indexUuid) {
    Band band = bandOf(index);
    CodeableConcept scheme = tables.concepts.get(index.id() + "-band");
    CodeableConcept outcome = band == null ? null : tables.concepts.get(band.outcome());
    String said = outcome == null ? "cannot be graded" : outcome.getText();
    String name = "grade/" + index.id() + "-band/" + index.side();
    Observation made = add(visit, name, scheme.getText() + ", " + index.side() + ": " + said, index.side());
    made.addCategory(tables.exam).setCode(scheme);
    visit.record.noteIndex(index.side(), scheme.getText() + ": " + said + " (" + tables.ruleSetName + ")");
    if (outcome != null) {
      made.setValue(outcome);
    } else {
      made.setDataAbsentReason(
          MappingTables.absence(index.reason() == null ? "not-applicable" : index.reason(), "no class"));
    }
    made.setBodySite(tables.concepts.get("site-lower-limb-" + index.side()));
    String rule = band == null ? "" : ", row " + band.id();
    made.setMethod(new CodeableConcept().setText("Rule set " + tables.ruleSet + rule));
    made.addDerivedFrom(new Reference("urn:uuid:" + indexUuid));
    if (band != null) made.addNote(new Annotation().setText(band.source()));
  }
}
