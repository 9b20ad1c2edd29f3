package footbridge.peers;

import com.fasterxml.jackson.databind.JsonNode;
import java.nio.charset.StandardCharsets;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.time.LocalDate;
import java.time.format.DateTimeFormatter;
import java.util.ArrayList;
import java.util.HashMap;
import java.util.HashSet;
import java.util.HexFormat;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Set;
import org.hl7.fhir.r4.model.Bundle;
import org.hl7.fhir.r4.model.CodeableConcept;
import org.hl7.fhir.r4.model.Coding;
import org.hl7.fhir.r4.model.Device;
import org.hl7.fhir.r4.model.DiagnosticReport;
import org.hl7.fhir.r4.model.Identifier;
import org.hl7.fhir.r4.model.Narrative;
import org.hl7.fhir.r4.model.Observation;
import org.hl7.fhir.r4.model.Provenance;
import org.hl7.fhir.r4.model.Reference;
import org.hl7.fhir.utilities.xhtml.NodeType;
import org.hl7.fhir.utilities.xhtml.XhtmlNode;

/** What stands around the Observations of one visit: instruments, the panel of each leg, report, provenance. */
final class VisitRecord {

  private static final String PARTICIPANT = "http://terminology.hl7.org/CodeSystem/provenance-participant-type";
  private static final String OPERATION = "http://terminology.hl7.org/CodeSystem/v3-DataOperation";
  private static final Coding REPORT_CATEGORY =
      new Coding("http://terminology.hl7.org/CodeSystem/v2-0074", "NRS", "Nursing Service Measures");
  private static final DateTimeFormatter DAY = DateTimeFormatter.ofPattern("d MMMM uuuu", Locale.UK);
  private static final Map<String, String> TITLES = Map.of("right", "Right leg", "left", "Left leg");
  private static final List<String> CAUTIONS =
      List.of(
          "Decision support only: local policy and the judgement of a licensed practitioner come first.",
          "A normal or raised ankle index does not exclude disease where arteries may be stiff, as in diabetes"
              + " and kidney disease.",
          "A reading that is missing here was not taken as normal.",
          "Grades say that a published threshold is met, with its source; they do not say what to do.");

  /** The report's lines of readings, by the first part of the names of items. */
  private static final Map<String, Set<String>> LINES = new LinkedHashMap<>();

  static {
    LINES.put("Pulses and Doppler", Set.of("pulse", "doppler"));
    LINES.put("Pressures", Set.of("ankle", "toe", "segment", "tcpo2", "exercise"));
    LINES.put("Symptoms and foot", Set.of("rest-pain", "claudication", "wound", "gangrene", "infection"));
    LINES.put("Stated by the clinician", Set.of("stated", "history"));
  }

  private record Said(String kind, String words) {}

  private final MappingTables tables;
  private final VisitBundles.Visit visit;
  private final JsonNode assessment;
  private final Map<String, Reference> devices = new HashMap<>();
  private final Map<String, List<Said>> said = Map.of("right", new ArrayList<>(), "left", new ArrayList<>());
  private final Map<String, List<String>> indexLines = Map.of("right", new ArrayList<>(), "left", new ArrayList<>());
  private final Map<String, List<String>> members =
      Map.of("right", new ArrayList<>(), "left", new ArrayList<>(), "none", new ArrayList<>());
  private final List<String> targets = new ArrayList<>();
  private final List<String> panels = new ArrayList<>();

  VisitRecord(MappingTables tables, VisitBundles.Visit visit, JsonNode assessment) {
    this.tables = tables;
    this.visit = visit;
    this.assessment = assessment;
  }

  /** The instrument of that kind which was used, or null. */
  Reference device(String kind) {
    return devices.get(kind);
  }

  /** Takes note of an Observation; leg is null where it belongs to none. */
  void note(String uuid, String leg) {
    targets.add(uuid);
    members.get(leg == null ? "none" : leg).add(uuid);
  }

  void noteReading(MappingTables.Spot spot, String words) {
    if (spot.leg() != null) said.get(spot.leg()).add(new Said(spot.id().split("\\.")[0], spot.name() + " " + words));
  }

  void noteIndex(String side, String line) {
    indexLines.get(side).add(line);
  }

  /** An instrument is named by what it is, so that every visit that uses it names the same. */
  void addInstruments() {
    Set<String> seen = new HashSet<>();
    for (JsonNode one : assessment.path("instruments")) {
      String serial = one.path("serial").asText();
      if (serial.isEmpty()) continue;
      String kind = one.get("kind").asText();
      String maker = one.path("manufacturer").asText();
      String uuid = visit.uuid("instrument/" + kind + "/" + maker + "/" + one.path("model").asText() + "/" + serial);
      devices.putIfAbsent(kind, reference(uuid));
      if (seen.add(uuid)) addInstrument(one, uuid);
    }
  }

  private void addInstrument(JsonNode one, String uuid) {
    String kind = one.get("kind").asText();
    String name = one.path("model").asText(kind);
    String maker = one.path("manufacturer").asText(null);
    String serial = one.get("serial").asText();
    CodeableConcept type = tables.concepts.get("instrument-" + kind);
    Device made = new Device().setManufacturer(maker).setSerialNumber(serial).setType(type);
    String words = type.getText() + ": " + maker + " " + name + ", serial number " + serial + ".";
    made.setText(VisitBundles.narrative(words));
    made.addIdentifier().setSystem(tables.idBase + "/device").setValue(uuid);
    made.addDeviceName().setName(name).setType(Device.DeviceNameType.MODELNAME);
    if (one.has("calibratedOn")) {
      LocalDate day = LocalDate.parse(one.get("calibratedOn").asText());
      made.addNote().setText("Calibrated on " + DAY.format(day) + ".");
    }
    visit.addEntry(made, uuid, "device");
  }

  void addPanels() {
    for (String side : MappingTables.SIDES) {
      List<String> own = members.get(side);
      if (own.isEmpty()) continue;
      String uuid = visit.uuidBelow("panel/leg/" + side);
      CodeableConcept code = tables.concepts.get("leg-panel");
      Observation made = visit.observation(uuid, code.getText() + ", " + side + ": " + own.size() + " results");
      made.addCategory(tables.exam).setCode(code).setBodySite(tables.concepts.get("site-lower-limb-" + side));
      own.forEach(member -> made.addHasMember(reference(member)));
      panels.add(uuid);
    }
  }

  /** The readings of a leg in words, and its indices with their classes. */
  private List<String> legLines(String side) {
    if (!visit.legs.contains(side)) return List.of("Nothing was recorded. This says nothing about the leg.");
    List<String> lines = new ArrayList<>();
    LINES.forEach(
        (title, kinds) -> {
          List<String> own = said.get(side).stream().filter(one -> kinds.contains(one.kind())).map(Said::words).toList();
          if (!own.isEmpty()) lines.add(title + ": " + String.join("; ", own) + ".");
        });
    lines.addAll(indexLines.get(side));
    return lines;
  }

  private Map<String, List<String>> parts() {
    Map<String, List<String>> parts = new LinkedHashMap<>();
    for (String side : MappingTables.SIDES) parts.put(TITLES.get(side), legLines(side));
    if (!visit.queries.isEmpty()) parts.put("Queries on the readings", visit.queries);
    return parts;
  }

  private Narrative narrative(Map<String, List<String>> parts) {
    XhtmlNode div = new XhtmlNode(NodeType.Element, "div");
    String measured = assessment.path("performer").path("name").asText();
    String status = visit.status.toCode();
    div.addTag("p")
        .addText("Lower-limb arterial assessment, " + visit.when + ". Status: " + status + ". Measured by " + measured + ".");
    Map<String, List<String>> shown = new LinkedHashMap<>(parts);
    if (assessment.has("note")) shown.put("Note of the clinician", List.of(assessment.get("note").asText()));
    JsonNode room = assessment.at("/conditions/room");
    if (!room.isMissingNode()) shown.put("Room", List.of(room.asText()));
    shown.put("Cautions", CAUTIONS);
    shown.forEach(
        (title, lines) -> {
          div.addTag("p").addTag("b").addText(title);
          XhtmlNode list = div.addTag("ul");
          lines.forEach(line -> list.addTag("li").addText(line));
        });
    Narrative made = new Narrative().setStatus(Narrative.NarrativeStatus.GENERATED);
    made.setDiv(div);
    return made;
  }

  private static String conclusion(Map<String, List<String>> parts) {
    StringBuilder out = new StringBuilder();
    Map<String, List<String>> told = new LinkedHashMap<>(parts);
    told.put("Cautions", CAUTIONS);
    told.forEach(
        (title, lines) -> {
          out.append(title).append(":\n");
          lines.forEach(line -> out.append("- ").append(line).append('\n'));
        });
    return out.toString().stripTrailing();
  }

  String addReport() {
    String uuid = visit.uuidBelow("report/arterial-assessment");
    Map<String, List<String>> parts = parts();
    DiagnosticReport made = new DiagnosticReport();
    made.setText(narrative(parts));
    made.addIdentifier().setSystem(tables.idBase + "/diagnosticreport").setValue(uuid);
    made.setStatus(DiagnosticReport.DiagnosticReportStatus.fromCode(visit.status.toCode()));
    JsonNode order = assessment.at("/order/identifier");
    if (!order.isMissingNode()) {
      made.addBasedOn().setType("ServiceRequest").setIdentifier(VisitBundles.identifier(order));
    }
    made.addCategory(new CodeableConcept(REPORT_CATEGORY)).setCode(tables.concepts.get("arterial-assessment"));
    made.setSubject(visit.subject).setEffective(visit.effective).setIssuedElement(visit.issued);
    if (visit.encounter != null) made.setEncounter(visit.encounter);
    visit.performers.forEach(made::addPerformer);
    panels.forEach(panel -> made.addResult(reference(panel)));
    members.get("none").forEach(one -> made.addResult(reference(one)));
    made.setConclusion(conclusion(parts));
    visit.addEntry(made, uuid, "diagnosticreport");
    return uuid;
  }

  void addProvenance(byte[] text, String report) {
    int revision = assessment.path("revision").asInt(1);
    String uuid = visit.uuidBelow("provenance/" + revision);
    String system = tables.idBase + "/provenance";
    Provenance made = new Provenance();
    made.getMeta().addTag().setSystem(system).setCode(uuid);
    made.setText(VisitBundles.narrative("Readings of " + visit.when + ", assembled by the bench peer."));
    targets.forEach(one -> made.addTarget(reference(one)));
    panels.forEach(one -> made.addTarget(reference(one)));
    made.addTarget(reference(report));
    made.setOccurred(visit.effective).setRecordedElement(visit.issued);
    Coding activity = new Coding(OPERATION, visit.revised ? "UPDATE" : "CREATE", visit.revised ? "revise" : "create");
    made.setActivity(new CodeableConcept(activity));
    addAgents(made);
    addEntities(made, revision, text);
    String search = "_tag=" + VisitBundles.searchValue(system) + "%7C" + uuid;
    visit.addEntry(made, uuid)
        .setMethod(Bundle.HTTPVerb.POST)
        .setUrl("Provenance")
        .setIfNoneExist(search);
  }

  private void addAgents(Provenance made) {
    addAgent(made, "performer", "Performer", visit.performers.get(0));
    addAgent(made, "custodian", "Custodian", visit.performers.get(1));
    Identifier software = new Identifier().setSystem(tables.idBase + "/software").setValue("footbridge");
    String named = "Bench peer, tables SHA-256 " + tables.digest;
    addAgent(made, "assembler", "Assembler", new Reference().setType("Device").setIdentifier(software).setDisplay(named));
  }

  private static void addAgent(Provenance made, String code, String display, Reference who) {
    made.addAgent().setType(new CodeableConcept(new Coding(PARTICIPANT, code, display))).setWho(who);
  }

  private void addEntities(Provenance made, int revision, byte[] text) {
    Identifier own = VisitBundles.identifier(assessment.get("identifier"));
    String source = "Assessment as received, revision " + revision + ", SHA-256 " + sha256(text);
    made.addEntity()
        .setRole(Provenance.ProvenanceEntityRole.SOURCE)
        .setWhat(new Reference().setIdentifier(own).setDisplay(source));
    if (!visit.revised) return;
    String before = "Assessment up to revision " + (revision - 1);
    made.addEntity()
        .setRole(Provenance.ProvenanceEntityRole.REVISION)
        .setWhat(new Reference().setIdentifier(own).setDisplay(before));
  }

  static String sha256(byte[] text) {
    try {
      return HexFormat.of().formatHex(MessageDigest.getInstance("SHA-256").digest(text));
    } catch (NoSuchAlgorithmException impossible) {
      throw new IllegalStateException(impossible); // every Java platform has it
    }
  }

  private static Reference reference(String uuid) {
    return new Reference("urn:uuid:" + uuid);
  }
}
