// Walks a resource beside its StructureDefinition, so that a check sees each value
// together with its type, its binding and the references it may make.
export class Structure {
  constructor(structureDefinitions) {
    this.types = new Map(); // "Observation" or "Observation.component" -> member name -> element
    this.kinds = new Map();
    for (const sd of structureDefinitions) {
      if (sd.derivation === 'constraint') continue;
      this.kinds.set(sd.type, sd.kind);
      this.types.set(sd.type, new Map());
      for (const element of sd.snapshot.element.slice(1)) {
        const at = element.path.lastIndexOf('.');
        const owner = element.path.slice(0, at);
        if (!this.types.has(owner)) this.types.set(owner, new Map());
        this.addMembers(this.types.get(owner), element, element.path.slice(at + 1));
      }
    }
  }

  addMembers(members, element, name) {
    if (element.contentReference) {
      members.set(name, { element, type: element.contentReference.slice(1) });
      return;
    }
    for (const type of element.type ?? []) {
      const code = type.extension?.[0]?.valueUrl ?? type.code;
      const inner = code === 'BackboneElement' || code === 'Element' ? element.path : code;
      const memberName = name.endsWith('[x]') ? name.slice(0, -3) + code[0].toUpperCase() + code.slice(1) : name;
      members.set(memberName, { element, type: inner, profile: type.profile, targetProfile: type.targetProfile });
    }
  }

  // Calls visit({ value, type, element, targetProfile, profile, path, name, parent }) for each value below.
  walk(value, type, path, visit) {
    const members = this.types.get(type);
    if (!members || !value || typeof value !== 'object') return;
    for (const [name, child] of Object.entries(value)) {
      const member = members.get(name);
      if (!member) continue;
      const several = Array.isArray(child);
      for (const [i, item] of (several ? child : [child]).entries()) {
        if (item === null || item === undefined) continue;
        const itemPath = several ? `${path}.${name}[${i}]` : `${path}.${name}`;
        const itemType = member.type === 'Resource' ? item.resourceType : member.type;
        visit({ ...member, type: itemType, value: item, path: itemPath, name, parent: value });
        this.walk(item, itemType, itemPath, visit);
      }
    }
  }
}
