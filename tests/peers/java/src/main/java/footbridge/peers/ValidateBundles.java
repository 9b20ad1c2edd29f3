package footbridge.peers;

import ca.uhn.fhir.context.FhirContext;
import ca.uhn.fhir.context.support.DefaultProfileValidationSupport;
import ca.uhn.fhir.validation.FhirValidator;
import ca.uhn.fhir.validation.ResultSeverityEnum;
import ca.uhn.fhir.validation.SingleValidationMessage;
import com.fasterxml.jackson.core.JsonPointer;
import com.fasterxml.jackson.databind.DeserializationFeature;
import com.fasterxml.jackson.databind.JsonNode;
import com.fasterxml.jackson.databind.ObjectMapper;
import com.fasterxml.jackson.databind.node.ArrayNode;
import com.fasterxml.jackson.databind.node.ObjectNode;
import java.io.BufferedReader;
import java.io.IOException;
import java.io.InputStreamReader;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import org.hl7.fhir.common.hapi.validation.support.CommonCodeSystemsTerminologyService;
import org.hl7.fhir.common.hapi.validation.support.PrePopulatedValidationSupport;
import org.hl7.fhir.common.hapi.validation.support.SnapshotGeneratingValidationSupport;
import org.hl7.fhir.common.hapi.validation.support.ValidationSupportChain;
import org.hl7.fhir.common.hapi.validation.validator.FhirInstanceValidator;
import org.hl7.fhir.instance.model.api.IBaseResource;
import org.hl7.fhir.r4.model.Bundle;
import org.hl7.fhir.r5.utils.validation.constants.BestPracticeWarningLevel;
import org.hl7.fhir.r5.utils.validation.constants.ReferenceValidationPolicy;
import org.hl7.fhir.validation.instance.advisor.BasePolicyAdvisorForFullValidation;

/** Validates FHIR R4 resources with the HL7 validator. Exit 0 only if there is no error and no warning. */
public final class ValidateBundles {

  private static final String USAGE =
      """
      usage: ValidateBundles [--code-system FILE.json]... [--profile FILE.json]... [--package FILE.tgz] [--also FILE.tgz]...
                             [--missing URL]
                             [--verbose] [--r4b|--r5] [--broken] [--mutations FILE.json] INPUT...
             ValidateBundles --selftest DIR
      --missing URL: a value set that nobody here can look into; its absence is a note and no warning.
      --package: the FHIR package is loaded, its snapshots are made anew and compared, and its own resources
      are validated. --mutations: each case breaks a bundle of INPUT by one edit, and only the profiles of the
      package may find it. --also: a package of others, of which only the definitions are used. --broken: in each INPUT an error has to be found.
      INPUT: .ndjson, one resource a line; .json, one resource; - for NDJSON on standard input.
      Exit codes: 0 no error and no warning, 1 some, 2 usage or unreadable file.
      """;

  private static final ObjectMapper JSON =
      new ObjectMapper().enable(DeserializationFeature.USE_BIG_DECIMAL_FOR_FLOATS);

  private final FhirContext context;
  private final boolean verbose;
  private final List<String> missing = new ArrayList<>();
  private final List<IBaseResource> definitions = new ArrayList<>();
  private FhirPackage fhirPackage;
  private Lanes lanes;

  private int bundles;
  private int others;
  private int errors;
  private int warnings;
  private int notes;
  private long unchecked;
  private long bytes;
  private long nanos;

  private ValidateBundles(FhirContext context, boolean verbose) {
    this.context = context;
    this.verbose = verbose;
  }

  public static void main(String[] args) {
    int code = 2;
    try {
      code = run(args);
    } catch (IOException | RuntimeException e) {
      System.err.println("cannot go on: " + e);
    }
    // The support chain keeps a non-daemon thread, so the program must end by exit.
    System.exit(code);
  }

  private static int run(String[] args) throws IOException {
    List<Path> definitions = new ArrayList<>();
    List<String> inputs = new ArrayList<>();
    List<String> missing = new ArrayList<>();
    Path selftest = null;
    Path packageFile = null;
    List<Path> also = new ArrayList<>();
    Path mutations = null;
    boolean verbose = false;
    FhirContext release = FhirContext.forR4();
    boolean broken = false;
    for (int i = 0; i < args.length; i++) {
      switch (args[i]) {
        case "--code-system", "--profile", "--selftest", "--package", "--also", "--mutations", "--missing" -> {
          if (i + 1 == args.length) {
            return usage(args[i] + " needs a value");
          }
          if (args[i].equals("--missing")) {
            missing.add(args[++i]);
            continue;
          }
          Path path = Path.of(args[i + 1]);
          switch (args[i]) {
            case "--selftest" -> selftest = path;
            case "--package" -> packageFile = path;
            case "--also" -> also.add(path);
            case "--mutations" -> mutations = path;
            default -> definitions.add(path);
          }
          i++;
        }
        case "--verbose" -> verbose = true;
        case "--r4b" -> release = FhirContext.forR4B();
        case "--r5" -> release = FhirContext.forR5();
        case "--broken" -> broken = true;
        case "--help" -> {
          System.out.print(USAGE);
          return 0;
        }
        default -> {
          if (args[i].startsWith("--")) {
            return usage("unknown option " + args[i]);
          }
          inputs.add(args[i]);
        }
      }
    }
    ValidateBundles it = new ValidateBundles(release, verbose);
    it.missing.addAll(missing);
    if (selftest != null) {
      return it.selftest(selftest) ? 0 : 1;
    }
    if (inputs.isEmpty()) {
      return usage("no input");
    }
    if (packageFile != null) {
      it.fhirPackage = FhirPackage.read(it.context, packageFile);
      it.definitions.addAll(it.fhirPackage.resources());
    }
    for (Path each : also) {
      it.definitions.addAll(FhirPackage.read(it.context, each).resources());
    }
    it.load(definitions);
    if (mutations != null) {
      return new Mutations(it::messagesOf).run(mutations, inputs) ? 0 : 1;
    }
    if (it.fhirPackage != null) {
      it.checkPackage();
    }
    if (broken) {
      return it.findAll(inputs) ? 0 : 1;
    }
    long start = System.nanoTime();
    for (String input : inputs) {
      it.validateFile(input);
    }
    it.lanes.finish();
    it.nanos = System.nanoTime() - start;
    if (it.bundles + it.others == 0) {
      // A check of nothing must not pass.
      return usage("no resource in the input");
    }
    it.printSummary();
    return it.errors + it.warnings == 0 ? 0 : 1;
  }

  private static int usage(String what) {
    System.err.println(what);
    System.err.print(USAGE);
    return 2;
  }

  /** Takes CodeSystem, ValueSet, StructureDefinition and the like, singly or in a Bundle. */
  private void load(List<Path> files) throws IOException {
    for (Path path : files) {
      IBaseResource resource = context.newJsonParser().parseResource(Files.readString(path));
      if (resource instanceof Bundle bundle) {
        bundle.getEntry().forEach(entry -> definitions.add(entry.getResource()));
      } else {
        definitions.add(resource);
      }
    }
    lanes = new Lanes(() -> build(newChain()));
  }

  /** The snapshots of the package are those that the library makes, and its resources are valid. */
  private void checkPackage() {
    List<String> differences = fhirPackage.compareSnapshots(newChain());
    differences.forEach(difference -> System.out.println("package: " + difference));
    errors += differences.size();
    fhirPackage.texts().forEach(text -> lanes.give(text, this::tellOfPackage));
    lanes.finish();
    System.out.printf(
        "package: %d resources, %d snapshots compared%n",
        fhirPackage.texts().size(), fhirPackage.snapshots());
  }

  private void tellOfPackage(List<SingleValidationMessage> messages) {
    List<SingleValidationMessage> found =
        messages.stream().filter(m -> isFinding(m) && !isAboutTheBase(m)).toList();
    found.forEach(message -> System.out.println("package: " + describe(message)));
    errors += found.size();
  }

  /** Each lane has definitions of its own: the library keeps notes on them without a lock. */
  private ValidationSupportChain newChain() {
    PrePopulatedValidationSupport ours = new Definitions(context);
    definitions.forEach(each -> ours.addResource(context.newTerser().clone(each)));
    return new ValidationSupportChain(
            ValidationSupportChain.CacheConfiguration.defaultValues()
                .setCacheTimeout(Duration.ofDays(1))
                .setCacheSize(100_000),
            ours,
            new DefaultProfileValidationSupport(context),
            new NotShippedCodeSystems(context),
            new CommonCodeSystemsTerminologyService(context),
            new DisplayCheckingTerminology(context),
            new SnapshotGeneratingValidationSupport(context));
  }

  private FhirValidator build(ValidationSupportChain chain) {
    FhirInstanceValidator instance = new FhirInstanceValidator(chain);
    instance.setWrappedWorkerContext(chain, new AnyCodingInValueSet(chain));
    instance.setBestPracticeWarningLevel(BestPracticeWarningLevel.Warning);
    instance.setAnyExtensionsAllowed(false);
    instance.setErrorForUnknownProfiles(true);
    // The library's own advisor implies no profile from a code and hides messages about references;
    // this is the official command line's. References out of the Bundle cannot be followed here.
    instance.setValidatorPolicyAdvisor(
        new BasePolicyAdvisorForFullValidation(ReferenceValidationPolicy.IGNORE, null));
    return context.newValidator().registerValidatorModule(instance);
  }

  private void validateFile(String input) throws IOException {
    if (input.endsWith(".json")) {
      give(input, Files.readString(Path.of(input)));
      return;
    }
    try (BufferedReader reader =
        input.equals("-")
            ? new BufferedReader(new InputStreamReader(System.in, StandardCharsets.UTF_8))
            : Files.newBufferedReader(Path.of(input))) {
      int number = 0;
      for (String line = reader.readLine(); line != null; line = reader.readLine()) {
        number++;
        if (!line.isBlank()) {
          give(input + ":" + number, line);
        }
      }
    }
  }

  /** Each input is one resource with an error, which has to be found. */
  private boolean findAll(List<String> inputs) throws IOException {
    int passed = 0;
    for (String input : inputs) {
      List<SingleValidationMessage> found =
          messagesOf(Files.readString(Path.of(input))).stream()
              .filter(m -> m.getSeverity() == ResultSeverityEnum.ERROR || m.getSeverity() == ResultSeverityEnum.FATAL)
              .toList();
      passed += found.isEmpty() ? 0 : 1;
      System.out.println(input + ": " + (found.isEmpty() ? "FAIL, no error" : describe(found.get(0))));
    }
    System.out.println(passed + " passed, " + (inputs.size() - passed) + " failed");
    return passed == inputs.size();
  }

  private void give(String where, String text) {
    bytes += text.length();
    if (countCodings(text)) {
      bundles++;
    } else {
      others++;
    }
    lanes.give(text, messages -> tell(where, messages));
  }

  private void tell(String where, List<SingleValidationMessage> messages) {
    for (SingleValidationMessage message : messages) {
      if (isMissing(message) || isAboutAComparator(message)) {
        notes++;
        continue;
      }
      switch (message.getSeverity()) {
        case FATAL, ERROR -> errors++;
        case WARNING -> warnings++;
        default -> notes++;
      }
      if (verbose || isFinding(message)) {
        System.out.println(where + ": " + describe(message));
      }
    }
  }

  private List<SingleValidationMessage> messagesOf(String text) {
    return lanes.ask(text);
  }

  /**
   * Warnings that every R4 package has: R4 itself binds language to a value set that it calls experimental,
   * and neither LOINC nor SNOMED CT may be shipped, so neither is there to look into.
   */
  private static boolean isAboutTheBase(SingleValidationMessage message) {
    String text = String.valueOf(message.getMessage());
    return text.contains("http://hl7.org/fhir/ValueSet/languages' which is experimental")
        || text.contains("'http://snomed.info/sct' which has status 'not-present'")
        || text.contains("'http://loinc.org' which has status 'not-present'")
        || "CONCEPTMAP_GROUP_TARGET_UNKNOWN".equals(message.getMessageId());
  }

  /** The library looks the sign of a comparator up among the names of its constants, and fails over it. */
  private static boolean isAboutAComparator(SingleValidationMessage message) {
    return "QUESTIONNAIRE_QR_ITEM_DECIMAL_VALUE_EXCEPTION".equals(message.getMessageId())
        && message.getMessage().contains("No enum constant org.hl7.fhir.r5.model.Enumerations.QuantityComparator.");
  }

  private boolean isMissing(SingleValidationMessage message) {
    return "Terminology_TX_ValueSet_NotFound".equals(message.getMessageId())
        && missing.stream().anyMatch(url -> message.getMessage().contains("'" + url + "'"));
  }

  private static boolean isFinding(SingleValidationMessage message) {
    return message.getSeverity() != ResultSeverityEnum.INFORMATION;
  }

  private static String describe(SingleValidationMessage message) {
    return String.format(
        "%s %s: %s [%s]",
        message.getSeverity().getCode(),
        message.getLocationString(),
        message.getMessage(),
        message.getMessageId());
  }

  /** Adds this resource's LOINC and SNOMED CT codings to the count; tells whether it is a Bundle. */
  private boolean countCodings(String text) {
    try {
      JsonNode root = JSON.readTree(text);
      unchecked += codingsIn(root);
      return root.path("resourceType").asText().equals("Bundle");
    } catch (IOException e) {
      // The validator has already reported it.
      return false;
    }
  }

  private static long codingsIn(JsonNode node) {
    long found = node.has("code") && NotShippedCodeSystems.SYSTEMS.contains(node.path("system").asText()) ? 1 : 0;
    for (JsonNode child : node) {
      found += codingsIn(child);
    }
    return found;
  }

  private void printSummary() {
    double seconds = nanos / 1e9;
    System.out.printf(
        Locale.ROOT,
        "%.1f s, %.1f resources/s, %.2f MB/s%n",
        seconds,
        (bundles + others) / seconds,
        bytes / 1e6 / seconds);
    System.out.printf(
        "bundles %d, %serrors %d, warnings %d, notes %d, unchecked codings: %d%s%n",
        bundles, others == 0 ? "" : "other resources " + others + ", ", errors, warnings, notes, unchecked,
        lanes.same() == 0 ? "" : ", byte for byte as one before: " + lanes.same());
  }

  /**
   * DIR holds code-system.json, valid.json and broken.json. Each case of broken.json breaks valid.json
   * by one edit and must be found with the severity, place and words that the case names.
   */
  private boolean selftest(Path dir) throws IOException {
    load(List.of(dir.resolve("code-system.json")));
    JsonNode valid = JSON.readTree(Files.readString(dir.resolve("valid.json")));
    int passed = 0;
    int failed = 0;
    List<SingleValidationMessage> clean =
        messagesOf(valid.toString()).stream().filter(ValidateBundles::isFinding).toList();
    if (clean.isEmpty()) {
      passed++;
    } else {
      failed++;
      System.out.println("FAIL valid: expected no error and no warning");
      clean.forEach(message -> System.out.println("  " + describe(message)));
    }
    for (JsonNode test : JSON.readTree(Files.readString(dir.resolve("broken.json")))) {
      JsonNode broken = valid.deepCopy();
      test.path("edits").forEach(edit -> apply(broken, edit));
      List<SingleValidationMessage> found =
          messagesOf(broken.toString()).stream().filter(ValidateBundles::isFinding).toList();
      boolean hit = found.stream().anyMatch(message -> matches(message, test));
      if (hit) {
        passed++;
      } else {
        failed++;
        System.out.println("FAIL " + test.path("name").asText() + ": not found as described");
      }
      if (!hit || verbose) {
        System.out.println(test.path("name").asText());
        found.forEach(message -> System.out.println("  " + describe(message)));
      }
    }
    System.out.println(passed + " passed, " + failed + " failed");
    return failed == 0;
  }

  private static boolean matches(SingleValidationMessage message, JsonNode test) {
    return message.getSeverity().getCode().equals(test.path("severity").asText())
        && String.valueOf(message.getLocationString()).contains(test.path("where").asText())
        && String.valueOf(message.getMessage()).contains(test.path("says").asText());
  }

  /** {"set": pointer, "to": value} or {"remove": pointer}. */
  private static void apply(JsonNode root, JsonNode edit) {
    boolean set = edit.has("set");
    JsonPointer pointer = JsonPointer.compile(edit.path(set ? "set" : "remove").asText());
    JsonNode parent = root.at(pointer.head());
    String name = pointer.last().getMatchingProperty();
    if (parent instanceof ObjectNode object) {
      if (set) {
        object.set(name, edit.get("to"));
      } else if (object.remove(name) == null) {
        throw new IllegalArgumentException("nothing to remove at " + pointer);
      }
    } else if (parent instanceof ArrayNode array && set && Integer.parseInt(name) < array.size()) {
      array.set(Integer.parseInt(name), edit.get("to"));
    } else {
      throw new IllegalArgumentException("no such place: " + pointer);
    }
  }
}
