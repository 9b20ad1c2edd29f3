package footbridge.peers;

import ca.uhn.fhir.context.FhirContext;
import ca.uhn.fhir.context.support.IValidationSupport;
import ca.uhn.fhir.context.support.ValidationSupportContext;
import java.io.IOException;
import java.io.InputStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.TreeSet;
import org.hl7.fhir.common.hapi.validation.support.SnapshotGeneratingValidationSupport;
import org.hl7.fhir.common.hapi.validation.validator.WorkerContextValidationSupportAdapter;
import org.hl7.fhir.instance.model.api.IBaseResource;
import org.hl7.fhir.r4.model.CanonicalType;
import org.hl7.fhir.r4.model.ElementDefinition;
import org.hl7.fhir.r4.model.ElementDefinition.TypeRefComponent;
import org.hl7.fhir.r4.model.StructureDefinition;
import org.hl7.fhir.utilities.npm.NpmPackage;

/** A FHIR NPM package, read by HL7's own package reader. */
final class FhirPackage {

  private final FhirContext context;
  private final List<String> texts = new ArrayList<>();
  private final List<IBaseResource> resources = new ArrayList<>();
  private int snapshots;

  private FhirPackage(FhirContext context) {
    this.context = context;
  }

  static FhirPackage read(FhirContext context, Path file) throws IOException {
    FhirPackage out = new FhirPackage(context);
    try (InputStream bytes = Files.newInputStream(file)) {
      NpmPackage npm = NpmPackage.fromPackage(bytes);
      if (!npm.fhirVersion().startsWith("4.0") || npm.canonical() == null) {
        throw new IOException("the package does not say its FHIR version and canonical address");
      }
      // By the index, as tools do: a file that it does not name is not there.
      for (NpmPackage.PackageResourceInformation each : npm.listIndexedResources()) {
        try (InputStream content = npm.load(each)) {
          String text = new String(content.readAllBytes(), StandardCharsets.UTF_8);
          out.texts.add(text);
          out.resources.add(context.newJsonParser().parseResource(text));
        }
      }
    }
    if (out.resources.isEmpty()) {
      throw new IOException("the package holds no resource");
    }
    return out;
  }

  List<String> texts() {
    return texts;
  }

  List<IBaseResource> resources() {
    return resources;
  }

  int snapshots() {
    return snapshots;
  }

  /** What differs between a shipped snapshot and the one that the library makes of the differential. */
  List<String> compareSnapshots(IValidationSupport chain) {
    List<String> out = new ArrayList<>();
    // With one view of the definitions for all: as it comes, the library converts each of them anew every time.
    SnapshotGeneratingValidationSupport maker =
        new SnapshotGeneratingValidationSupport(context, new WorkerContextValidationSupportAdapter(chain));
    for (IBaseResource resource : resources) {
      if (resource instanceof StructureDefinition shipped) {
        StructureDefinition bare = shipped.copy();
        bare.setSnapshot(null);
        IBaseResource made =
            maker.generateSnapshot(new ValidationSupportContext(chain), bare, shipped.getUrl(), "", shipped.getName());
        compare(shipped, (StructureDefinition) made, out);
        snapshots++;
      }
    }
    return out;
  }

  private static void compare(StructureDefinition shipped, StructureDefinition made, List<String> out) {
    Map<String, String> ours = facts(shipped);
    Map<String, String> theirs = facts(made);
    TreeSet<String> ids = new TreeSet<>(ours.keySet());
    ids.addAll(theirs.keySet());
    for (String id : ids) {
      if (!String.valueOf(ours.get(id)).equals(String.valueOf(theirs.get(id)))) {
        out.add(shipped.getId() + " " + id + ": shipped " + ours.get(id) + ", made " + theirs.get(id));
      }
    }
  }

  /** What a snapshot demands of each element, as one text an element. */
  private static Map<String, String> facts(StructureDefinition definition) {
    Map<String, String> out = new LinkedHashMap<>();
    for (ElementDefinition element : definition.getSnapshot().getElement()) {
      TreeSet<String> types = new TreeSet<>();
      for (TypeRefComponent type : element.getType()) {
        TreeSet<String> targets = new TreeSet<>();
        type.getTargetProfile().forEach((CanonicalType target) -> targets.add(target.getValue()));
        types.add(type.getCode() + targets);
      }
      TreeSet<String> keys = new TreeSet<>();
      element.getConstraint().forEach(constraint -> keys.add(constraint.getKey()));
      String pattern = element.hasPattern() ? patternText(element) : "";
      out.put(
          element.getId(),
          element.getMin() + ".." + element.getMax() + " " + types + " " + keys + " " + pattern
              + " " + (element.hasBinding()
                  ? element.getBinding().getStrength() + " " + element.getBinding().getValueSet()
                  : "")
              + " " + element.getMustSupport() + element.getIsModifier() + " "
              + (element.hasSlicing() ? element.getSlicing().getRules() : "")
              + (element.hasSliceName() ? element.getSliceName() : ""));
    }
    return out;
  }

  private static String patternText(ElementDefinition element) {
    StringBuilder out = new StringBuilder(element.getPattern().fhirType());
    element.getPattern().children().forEach(property ->
        property.getValues().forEach(value -> append(out, value)));
    return out.toString();
  }

  private static void append(StringBuilder out, org.hl7.fhir.r4.model.Base value) {
    if (value.isPrimitive()) {
      out.append('|').append(value.primitiveValue());
    }
    value.children().forEach(property -> property.getValues().forEach(inner -> append(out, inner)));
  }
}
